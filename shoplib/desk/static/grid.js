export default { render({ model, el }) {
  const box = document.createElement("div"), t = document.createElement("table");
  box.className = "shop-grid-box"; t.className = "shop-grid"; box.append(t); el.append(box);
  let cells = [];
  const blank = () => model.get("heads").map(() => "");
  const offer = (words, j) => {                                          // words that may stand in a column, to pick from
    const list = document.createElement("datalist"); list.id = `${model.model_id ?? "grid"}-${j}`;
    for (const word of words) { const o = document.createElement("option"); o.value = word; list.append(o); }
    return list;
  };
  const build = () => {
    const heads = model.get("heads"), rows = model.get("value"), words = model.get("words"), text = model.get("text");
    t.replaceChildren(); cells = [];
    const lists = heads.map((h, j) => words[j]?.length ? offer(words[j], j) : null);
    box.querySelectorAll("datalist").forEach(d => d.remove()); box.append(...lists.filter(Boolean));
    const head = t.createTHead().insertRow(); head.append(document.createElement("td"));
    for (const h of heads) { const th = document.createElement("th"); th.scope = "col"; th.textContent = h; head.append(th); }
    const body = t.createTBody();
    rows.forEach((row, i) => {
      const tr = body.insertRow(), th = document.createElement("th"); th.scope = "row"; th.textContent = i + 1; tr.append(th);
      cells.push(heads.map((h, j) => {
        const input = document.createElement("input"); input.value = row[j] ?? ""; input.dataset.r = i; input.dataset.c = j;
        input.autocomplete = "off"; input.spellcheck = false; input.className = text[j] ? "shop-grid-text" : "";
        if (lists[j]) input.setAttribute("list", lists[j].id);
        input.setAttribute("aria-label", `row ${i + 1}, ${h}`); tr.insertCell().append(input); return input; }));
    });
    mark();
  };
  const mark = () => {
    const bad = new Set(model.get("bad"));
    cells.forEach((row, i) => row.forEach((cell, j) => cell.setAttribute("aria-invalid", bad.has(`${i},${j}`))));
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
    const input = e.target, start = input.selectionStart === 0 && input.selectionEnd === 0;
    const whole = input.selectionStart === 0 && input.selectionEnd === input.value.length;
    const end = input.selectionStart === input.value.length;
    const down = { Enter: e.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[e.key] ?? 0;
    const across = e.key === "ArrowRight" && (end || whole) ? 1 : e.key === "ArrowLeft" && (start || whole) ? -1 : 0;
    if (!down && !across || e.altKey || e.ctrlKey || e.metaKey) return;
    e.preventDefault();
    const next = cells[+input.dataset.r + down]?.[+input.dataset.c + across];
    if (next) { next.focus(); next.select(); }
  });
  t.addEventListener("paste", e => {
    const text = e.clipboardData.getData("text"); if (!/[\t\n]/.test(text.trim())) return;
    e.preventDefault();
    const r = +e.target.dataset.r, c = +e.target.dataset.c;
    put(text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n").flatMap((line, i) => line.split("\t").map((x, j) => [r + i, c + j, x.trim()])));
  });
  const sync = () => {
    const rows = model.get("value");
    if (rows.length !== cells.length) {
      const held = t.contains(document.activeElement) ? document.activeElement : null, at = held?.selectionStart;
      const { r, c } = held?.dataset ?? {}; build();
      const cell = cells[r]?.[c]; if (cell) { cell.focus(); cell.setSelectionRange(at, at); }   // typing goes on where it was
      return;
    }
    rows.forEach((row, i) => row.forEach((x, j) => { const cell = cells[i]?.[j]; if (cell && cell.value !== x) cell.value = x; }));
  };
  build(); model.on("change:value", sync); model.on("change:bad", mark); model.on("change:heads change:words", build);
} };
