export default { render({ model, el }) {
  const label = document.createElement("label"), said = document.createElement("b"), input = document.createElement("input");
  input.type = "range"; input.id = label.htmlFor = `slider-${Math.random().toString(36).slice(2)}`;
  label.className = "shop-label"; el.classList.add("shop-slider"); el.append(label, input);
  const show = () => {
    for (const k of ["min", "max", "step"]) input[k] = model.get(k);
    if (+input.value !== model.get("value")) input.value = model.get("value");
    label.replaceChildren(model.get("name"), " ", said); said.textContent = model.get("words");
    input.setAttribute("aria-label", model.get("name")); input.disabled = model.get("disabled");
    input.classList.toggle("shop-unplaced", !model.get("placed"));
    if (model.get("words")) input.setAttribute("aria-valuetext", model.get("words")); else input.removeAttribute("aria-valuetext");
  };
  const place = () => { model.set("value", +input.value); model.set("placed", true); model.save_changes(); };
  input.addEventListener("input", place);
  // a press where the hidden handle is, or Enter, changes no value but places it
  input.addEventListener("pointerup", () => { if (!model.get("placed")) place(); });
  input.addEventListener("keydown", e => { if (!model.get("placed") && e.key === "Enter") place(); });
  model.on("change", show); show();
  return () => model.off("change", show);
} };
