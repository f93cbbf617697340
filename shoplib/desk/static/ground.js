export default { render({ model, el }) {
  el.append(Object.assign(document.createElement("style"), { textContent: model.get("css") }));
  // A notebook takes arrows and letters for itself wherever nothing can be written: on a slider, a list, a button.
  if (window.shoplibKeys) return;
  window.shoplibKeys = true;
  document.addEventListener("focusin", ({ target }) => {
    if (target.closest(".shop") && !target.matches(":read-write")) target.setAttribute("data-lm-suppress-shortcuts", "true");
  });
} };
