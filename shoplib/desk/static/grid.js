export default { render({ model, el }) {
  const t = document.createElement("table"); t.className = "shop-grid"; el.append(t);
  let cells = [];
  const blank = () => model.get("heads").map(() => "");
  const build = () => {
    const heads = model.get("heads"), rows = model.get("value"); t.replaceChildren(); cells = [];
    const head = t.insertRow(); head.append(document.createElement("td"));
    for (const h of heads) { const th = document.createElement("th"); th.scope = "col"; th.textContent = h; head.append(th); }
    rows.forEach((row, i) => {
      const tr = t.insertRow(), th = document.createElement("th"); th.scope = "row"; th.textContent = i + 1; tr.append(th);
      cells.push(heads.map((h, j) => {
        const input = document.createElement("input"); input.value = row[j] ?? ""; input.dataset.r = i; input.dataset.c = j;
        input.setAttribute("aria-label", `row ${i + 1}, ${h}`); tr.insertCell().append(input); return input; }));
    });
  };
  const put = (changes) => {
    const rows = model.get("value").map(r => r.slice());
    for (const [i, j, text] of changes) {
      while (rows.length <= i) rows.push(blank());
      if (j < rows[i].length) rows[i][j] = text;
    }
    if (rows.at(-1).some(x => x.trim() !== "")) rows.push(blank());   // always one empty row to go on in
    model.set("value", rows); model.save_changes();
  };
  t.addEventListener("input", e => { const d = e.target.dataset; put([[+d.r, +d.c, e.target.value]]); });
  t.addEventListener("keydown", e => {
    e.stopPropagation();                                               // keep the notebook's shortcuts out
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[e.key]; if (!step) return;
    e.preventDefault();
    const next = cells[+e.target.dataset.r + step]?.[+e.target.dataset.c];
    if (next) { next.focus(); next.select(); }
  });
  t.addEventListener("paste", e => {
    const text = e.clipboardData.getData("text"); if (!/[\t\n]/.test(text.trim())) return;
    e.preventDefault();
    const r = +e.target.dataset.r, c = +e.target.dataset.c;
    put(text.replace(/\r/g, "").replace(/\n+$/, "").split("\n").flatMap((line, i) => line.split("\t").map((x, j) => [r + i, c + j, x])));
  });
  const sync = () => {
    const rows = model.get("value");
    if (rows.length !== cells.length) {
      const at = document.activeElement?.dataset ?? {}; build();
      if (t.contains(document.activeElement) || at.r !== undefined) cells[at.r]?.[at.c]?.focus();
      return;
    }
    rows.forEach((row, i) => row.forEach((x, j) => { const cell = cells[i]?.[j]; if (cell && cell.value !== x) cell.value = x; }));
    const bad = new Set(model.get("bad"));
    cells.forEach((row, i) => row.forEach((cell, j) => cell.setAttribute("aria-invalid", bad.has(`${i},${j}`))));
  };
  build(); model.on("change:value change:bad", sync); model.on("change:heads", build);
} };
