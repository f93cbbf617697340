export default { render({ model, el }) {
  const label = document.createElement("label"), said = document.createElement("b"), input = document.createElement("input");
  input.type = "range"; input.id = label.htmlFor = `slider-${Math.random().toString(36).slice(2)}`;
  label.className = "shop-label"; el.classList.add("shop-slider"); el.append(label, input);
  const show = () => {
    for (const k of ["min", "max", "step"]) input[k] = model.get(k);
    if (+input.value !== model.get("value")) input.value = model.get("value");
    label.replaceChildren(model.get("name"), " ", said); said.textContent = model.get("words");
    input.setAttribute("aria-label", model.get("name")); input.disabled = model.get("disabled");
    if (model.get("words")) input.setAttribute("aria-valuetext", model.get("words")); else input.removeAttribute("aria-valuetext");
  };
  input.addEventListener("input", () => { model.set("value", +input.value); model.save_changes(); });
  model.on("change", show); show();
  return () => model.off("change", show);
} };
