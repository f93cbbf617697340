// Choose or take a photograph; it is sent in pieces, because a server accepts no message of 10 MB.
const PIECE = 1_000_000;
export default { render({ model, el }) {
  const label = document.createElement("label"), input = document.createElement("input"), words = document.createElement("span");
  label.className = "shop-photo-pick"; input.type = "file"; input.accept = "image/jpeg,image/png,image/webp,image/*";
  words.textContent = model.get("words"); label.append(input, words);
  const image = document.createElement("img"); image.className = "shop-photo-seen"; image.alt = ""; image.hidden = true;
  el.append(label, image);
  input.addEventListener("change", async () => {
    const file = input.files[0]; if (!file) return;
    if (file.size > model.get("largest")) { model.send({ size: file.size }); input.value = ""; return; }
    const bytes = await file.arrayBuffer(), of = Math.max(1, Math.ceil(bytes.byteLength / PIECE));
    for (let part = 0; part < of; part++) model.send({ part, of }, undefined, [bytes.slice(part * PIECE, (part + 1) * PIECE)]);
    URL.revokeObjectURL(image.src); image.src = URL.createObjectURL(file); image.hidden = false;
  });
  const clear = () => { if (!model.get("chosen")) { input.value = ""; image.hidden = true; } };
  const name = () => { words.textContent = model.get("words"); };
  model.on("change:chosen", clear); model.on("change:words", name);
  return () => { model.off("change:chosen", clear); model.off("change:words", name); URL.revokeObjectURL(image.src); };
} };
