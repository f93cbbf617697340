export default { render({ model, el }) {
  const box = document.createElement("div"), t = document.createElement("table"), hint = document.createElement("div");
  box.className = "shop-grid-box"; t.className = "shop-grid"; hint.className = "shop-grid-hint"; hint.setAttribute("aria-live", "polite");
  const tools = document.createElement("div"); tools.className = "shop-grid-tools";
  box.append(t); el.append(box, tools, hint);
  const grows = CSS.supports("field-sizing", "content");               // the browser adapts the height of a textarea to its text
  let cells = [], heads = [], wide = [], lists = [], chosen = [];        // chosen: the unit of bare numbers, column by column
  const bare = /^[+\-−]?(\d+([.,]\d+)?|[.,]\d+)([eE][+\-]?\d+)?(\s*\+\s*(\d+([.,]\d+)?|[.,]\d+)([eE][+\-]?\d+)?)*$/;
  const first = (j) => model.get("units")?.[j]?.[0] ?? "";
  const withUnit = (j, text, unit) => unit && bare.test(text.trim()) ? `${text.trim()} ${unit}` : text;
  const unitBox = (usual) => {                                           // chosen once for all columns with this unit
    const label = document.createElement("label"), pick = document.createElement("select"), names = model.get("heads");
    const mine = names.map((h, j) => j).filter(j => first(j) === usual);
    for (const u of model.get("units")[mine[0]]) pick.add(new Option(u, u));
    pick.addEventListener("change", () => {                              // numbers that are there keep the unit that they had
      const before = chosen[mine[0]] || usual; 
      mine.forEach(j => { chosen[j] = pick.value; heads[j].textContent = headOf(j); cells.forEach((row, i) => name(row[j], i, j)); });
      take(model.get("value").map(row => row.map((x, j) => mine.includes(j) ? withUnit(j, x, before) : x)));
    });
    pick.addEventListener("keydown", e => e.stopPropagation());
    const alone = names.every((h, j) => !first(j) || first(j) === usual), only = mine.map(j => names[j].replace(/, [^,]*$/, ""));
    label.append(alone ? "A number without a unit is in " : `A number without a unit under ${only.join(", ").replace(/, ([^,]*)$/, " or $1")} is in `, pick); return label;
  };
  const name = (cell, i, j) => cell.setAttribute("aria-label", `row ${i + 1}, ${headOf(j)}`);
  const headOf = (j) => chosen[j] ? model.get("heads")[j].replace(/, [^,]*$/, `, ${chosen[j]}`) : model.get("heads")[j];
  const blank = () => model.get("heads").map(() => "");
  const offer = (words, j) => {                                          // words that may be chosen instead of a number
    const list = document.createElement("datalist"); list.id = `${model.model_id ?? "grid"}-${j}`;
    for (const word of words) list.append(new Option(word, word));
    return list;
  };
  const called = (j) => model.get("labels")?.[j] ?? model.get("words")[j] ?? [];   // the choices of a column as people read them
  const letter = { number: 34, choice: 30, text: 38 };                  // largest width of a column, in letters
  const width = (j, text) => {                                          // a column is as wide as its content; text wraps
    const kind = model.get("kinds")[j], longest = Math.max(...text.split(/\s+/).map(x => x.length), Math.min(text.length, 16), text.length / 2);
    const room = model.get("words")[j].length ? 6 : 3;                  // for the arrow of a list
    return Math.min((kind === "text" ? longest : text.length) + room, j === 0 && kind === "text" ? 14 : letter[kind]);
  };
  const widen = (j, text) => {
    const w = width(j, text); if (w <= (wide[j] ?? 0)) return;
    wide[j] = w; heads[j].style.minWidth = `min(${w}ch, var(--room))`;
  };
  const set = (cell, text) => {
    if (cell.tagName === "SELECT" && ![...cell.options].some(o => o.value === text)) cell.add(new Option(text, text));  // an unknown word stays as it is
    if (cell.value !== text) cell.value = text;
    if (!grows && cell.tagName === "TEXTAREA") { cell.style.height = "auto"; cell.style.height = `${cell.scrollHeight + 2}px`; }
  };
  const make = (kind, words, labels, list, pad) => {
    const cell = document.createElement(kind === "choice" ? "select" : kind === "text" ? "textarea" : "input");
    if (kind === "choice") { cell.add(new Option("", "")); words.forEach((word, k) => cell.add(new Option(labels[k] ?? word, word))); }
    if (kind === "text") cell.rows = 1;
    if (list) cell.setAttribute("list", list.id);
    cell.autocomplete = "off"; cell.spellcheck = false;
    if (pad) cell.inputMode = pad;                                       // the keypad of a phone
    return cell;
  };
  const build = () => {
    const names = model.get("heads"), rows = model.get("value"), words = model.get("words"), kinds = model.get("kinds");
    t.replaceChildren(); cells = []; wide = [];
    lists = names.map((h, j) => words[j]?.length && kinds[j] !== "choice" ? offer(words[j], j) : null);
    box.querySelectorAll("datalist").forEach(d => d.remove()); box.append(...lists.filter(Boolean));
    const head = t.createTHead().insertRow(); head.append(document.createElement("td"));
    heads = names.map((h, j) => { const th = document.createElement("th"); th.scope = "col"; th.textContent = headOf(j); head.append(th); return th; });
    t.createTBody(); rows.forEach(add);
    names.forEach((h, j) => { for (const x of kinds[j] === "choice" ? called(j) : [h.split(/\s+/)[0]]) widen(j, x); });
    mark();
  };
  const add = (row) => {
    const names = model.get("heads"), words = model.get("words"), kinds = model.get("kinds"), i = cells.length;
    const tr = t.tBodies[0].insertRow(), th = document.createElement("th"); th.scope = "row"; th.textContent = i + 1; tr.append(th);
    cells.push(names.map((h, j) => {
      const cell = make(kinds[j], words[j] ?? [], called(j), lists[j], model.get("pads")?.[j]); cell.dataset.r = i; cell.dataset.c = j;
      name(cell, i, j); tr.insertCell().append(cell);
      set(cell, row[j] ?? ""); widen(j, row[j] ?? ""); return cell; }));
  };
  const mark = () => {
    const bad = new Set(model.get("bad"));
    cells.forEach((row, i) => row.forEach((cell, j) => cell.setAttribute("aria-invalid", bad.has(`${i},${j}`))));
  };
  const word = (j, text) => {                                            // a pasted choice, or its label, as it is stored
    if (model.get("kinds")[j] !== "choice") return text;
    const words = model.get("words")[j], same = x => x.toLowerCase() === text.trim().toLowerCase();
    return words.find(same) ?? words[called(j).findIndex(same)] ?? text;
  };
  const put = (changes) => {
    const rows = model.get("value").map(r => r.slice());
    for (const [i, j, text] of changes) {
      while (rows.length <= i) rows.push(blank());
      if (j < rows[i].length) { rows[i][j] = withUnit(j, word(j, text), chosen[j] === first(j) ? "" : chosen[j]); widen(j, text); }
    }
    if (rows.at(-1).some(x => x.trim() !== "")) rows.push(blank());   // always one empty row at the end
    model.set("value", rows); model.save_changes();
  };
  let hand = -1, before = null;                                         // last used row; the rows before a deletion
  const tool = (text, does) => {
    const b = document.createElement("button"); b.type = "button"; b.textContent = text; tools.append(b);
    b.addEventListener("click", does); b.addEventListener("keydown", e => e.stopPropagation()); return b;
  };
  const take = (rows) => {
    if (!rows.length || rows.at(-1).some(x => x.trim() !== "")) rows.push(blank());
    model.set("value", rows); model.save_changes();
  };
  const out = (rows) => { before = model.get("value"); take(rows); offers(); };
  const remove = tool("Delete row", () => { out(model.get("value").filter((_, i) => i !== hand)); go(cells[Math.min(hand, cells.length - 1)]?.[0]); });
  const clear = tool("Clear the table", () => { out([]); hand = -1; offers(); });
  const copy = tool("Copy the row above", () => {
    const i = hand, above = model.get("value")[i - 1]; if (!above) return;
    put(above.map((text, j) => [i, j, text])); before = null; offers(); go(cells[i]?.[0]);
  });
  const back = tool("Restore the rows", () => { const rows = before; before = null; take(rows.map(r => r.slice())); offers(); });
  const offers = () => {
    remove.textContent = hand < 0 ? "Delete row" : `Delete row ${hand + 1}`;
    const rows = model.get("value").length;                             // the last row is empty
    copy.disabled = hand < 1 || hand >= rows;
    remove.disabled = hand < 0 || hand >= rows - 1; clear.disabled = rows < 2; back.hidden = before === null;
  };
  const fit = () => {
    const first = heads[0], corner = first?.previousElementSibling; if (!corner) return;
    const free = first.offsetWidth > 0.42 * box.clientWidth;            // on a phone it would cover the rest
    t.classList.toggle("shop-grid-free", free);
    const stays = corner.offsetWidth + (free ? 0 : first.offsetWidth);
    t.style.setProperty("--room", `${box.clientWidth - stays - 32}px`);  // no column is wider than the space beside the fixed columns
    box.style.scrollPaddingLeft = `${stays + 8}px`; box.style.scrollPaddingTop = `${corner.offsetHeight + 6}px`;
  };
  const at = (cell) => [+cell.dataset.r, +cell.dataset.c];
  const tell = (cell) => {                                              // help for the column in use
    const [, j] = cell ? at(cell) : [0, -1], about = model.get("hints")[j];
    const sideways = box.scrollWidth > box.clientWidth + 1 ? "Scroll sideways for more columns; the first column stays. " : "";
    hint.textContent = cell ? `${model.get("heads")[j]}${about ? ": " + about : ""}` : `${sideways}Enter moves down. Ctrl+D copies the cell above. You can paste rows from a spreadsheet.`;
  };
  t.addEventListener("focusin", e => {
    fit(); tell(e.target); hand = at(e.target)[0]; offers();
    e.target.scrollIntoView({ block: "nearest", inline: "nearest" });   // show the whole cell beside the fixed columns
  });
  t.addEventListener("focusout", e => {                                  // the unit that was stored is shown beside the number
    tell(); const [i, j] = at(e.target), x = model.get("value")[i]?.[j];
    if (x !== undefined && e.target.value !== x) { set(e.target, x); widen(j, x); }
  });
  t.addEventListener("input", e => {
    const [i, j] = at(e.target);
    if (e.target.tagName === "TEXTAREA") set(e.target, e.target.value.replace(/[\r\n]+/g, " "));
    put([[i, j, e.target.value]]); before = null; offers();
  });
  const go = (cell) => { if (cell) { cell.focus(); cell.select?.(); } };
  t.addEventListener("keydown", e => {
    e.stopPropagation();                                               // keep the notebook's shortcuts out
    const cell = e.target, [i, j] = at(cell), pick = cell.tagName === "SELECT";
    if ((e.ctrlKey || e.metaKey) && !e.altKey && e.key.toLowerCase() === "d") {
      e.preventDefault();
      if (i > 0) { set(cell, cells[i - 1][j].value); put([[i, j, cell.value]]); }
      return;
    }
    if (e.altKey || e.ctrlKey || e.metaKey) return;
    if (pick && (e.key === "Delete" || e.key === "Backspace")) { e.preventDefault(); set(cell, ""); put([[i, j, ""]]); return; }
    const start = pick || cell.selectionStart === 0 && cell.selectionEnd === 0;
    const whole = pick || cell.selectionStart === 0 && cell.selectionEnd === cell.value.length;
    const end = pick || cell.selectionStart === cell.value.length;
    const down = { Enter: e.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[e.key] ?? 0;
    const across = e.key === "ArrowRight" && (end || whole) ? 1 : e.key === "ArrowLeft" && (start || whole) ? -1 : 0;
    if (!down && !across) return;
    e.preventDefault();                                                // an arrow key that passes a choice never changes it
    go(cells[i + down]?.[j + across]);
  });
  t.addEventListener("paste", e => {
    const text = e.clipboardData.getData("text"), [r, c] = at(e.target);
    if (!/[\t\n]/.test(text.trim()) && e.target.tagName !== "SELECT") return;
    e.preventDefault();
    put(text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n").flatMap((line, i) => line.split("\t").map((x, j) => [r + i, c + j, x.trim()])));
  });
  const sync = () => {
    const rows = model.get("value");
    while (cells.length > rows.length) { cells.pop(); t.tBodies[0].deleteRow(-1); }
    rows.slice(cells.length).forEach(add);                             // the row in use stays, so that typing continues
    rows.forEach((row, i) => row.forEach((x, j) => { const cell = cells[i]?.[j]; if (cell && cell.value !== x && !(cell === document.activeElement && x === withUnit(j, cell.value, chosen[j]))) { set(cell, x); widen(j, x); } }));
  };
  model.on("change:value", () => offers());
  build(); tell(); offers();
  for (const usual of new Set(model.get("heads").map((_, j) => first(j)).filter(Boolean))) tools.append(unitBox(usual));
  model.on("change:value", sync); model.on("change:bad", mark); model.on("change:heads change:words", build);
  new ResizeObserver(() => { fit(); if (!t.contains(document.activeElement)) tell(); }).observe(box);
} };
