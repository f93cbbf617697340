// A list of jobs to choose from.  Text is set as text, never as markup.
export default { render({ model, el }) {
  const table = document.createElement("table"); table.className = "shop-jobs"; el.append(table);
  const cell = (tr, text, name) => { const td = tr.insertCell(); td.className = name; td.textContent = text; td.dir = "auto"; return td; };
  const build = () => {
    const heads = model.get("heads"), today = model.get("today");
    table.replaceChildren();
    if (!model.get("rows").length) return;
    const head = table.createTHead().insertRow();
    for (const text of heads) { const th = document.createElement("th"); th.scope = "col"; th.textContent = text; head.append(th); }
    const body = table.createTBody();
    for (const row of model.get("rows")) {
      const tr = body.insertRow(), button = document.createElement("button"), first = tr.insertCell();
      button.type = "button"; button.textContent = row[0]; button.dir = "auto"; first.className = "shop-job-number"; first.append(button);
      if (row[0] === today) { tr.className = "shop-job-today"; button.setAttribute("aria-current", "true"); }
      const names = ["", "shop-job-engine", "shop-job-about", "shop-job-state", "shop-job-lines", "shop-job-when"];
      row.slice(1).forEach((text, k) => { const td = cell(tr, text, names[k + 1]); td.dataset.head = heads[k + 1]; });
      button.setAttribute("aria-label", `work on job ${row.slice(0, 4).filter(Boolean).join(", ")}`);
      tr.addEventListener("click", () => model.send({ pick: row[0] }));     // the click on the button also arrives here
    }
  };
  table.addEventListener("keydown", e => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[e.key]; if (!step) return;
    const all = [...table.querySelectorAll("button")], next = all[all.indexOf(e.target) + step];
    if (next) { e.preventDefault(); e.stopPropagation(); next.focus(); }
  });
  const wired = ["rows", "heads", "today"].map(n => "change:" + n);
  wired.forEach(n => model.on(n, build)); build();
  return () => wired.forEach(n => model.off(n, build));
} };
