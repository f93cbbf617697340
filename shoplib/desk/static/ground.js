const ALIVE = "/shoplib-alive";   // a path of shoplib's own servers; a hub does not have it
const EVERY = 600, PATIENCE = 1000;   // ms; together less than 2 s, the time limit for showing a lost connection
const LOOK = "position:fixed;inset:0 0 auto 0;z-index:100000;margin:0;padding:14px 16px;background:#8c1d18;color:#fff;font:700 22px/1.35 sans-serif;text-align:center";
const WORDS = "<span>NOT SAVED – NO CONNECTION</span><br><span style='font-size:16px;font-weight:400'>Nothing is saved now. Keep this page open. If this message stays, start shoplib again, then reload this page.</span>";

function watch() {   // one watch per page, for any number of forms
  const forms = new Map();   // element → its widget manager
  let server = "unknown", banner = null;
  const ask = async () => {
    const stop = new AbortController(), began = performance.now(), late = setTimeout(() => stop.abort(), PATIENCE);
    try { server = (await fetch(ALIVE, { signal: stop.signal, cache: "no-store" })).ok ? "here" : "unknown"; }
    catch { if (performance.now() - began < 1.3 * PATIENCE) server = "gone"; }   // otherwise this page was busy, not the server
    clearTimeout(late);
    show();
    if (server !== "unknown") setTimeout(ask, EVERY);
  };
  const lost = manager => server === "gone" || ["connecting", "disconnected"].includes(manager?.kernel?.connectionStatus) || manager?.kernel?.status === "dead";
  const show = () => {
    let any = false;
    for (const [el, manager] of forms) {
      const form = el.closest(".shop");
      if (!form) continue;
      const off = lost(manager);
      any ||= off;
      if (off === (form.dataset.lost === "true") && !off) continue;
      form.dataset.lost = String(off);
      for (const button of form.querySelectorAll("button"))
        if (off && !button.disabled) { button.disabled = true; button.dataset.lost = "true"; }
        else if (!off && button.dataset.lost) { button.disabled = false; delete button.dataset.lost; }
    }
    if (any && !banner) {
      banner = Object.assign(document.createElement("div"), { innerHTML: WORDS, className: "shop-no-connection" });
      banner.style.cssText = LOOK; banner.setAttribute("role", "alert");
      document.body.append(banner);
    } else if (!any) { banner?.remove(); banner = null; }
  };
  setInterval(show, EVERY);
  for (const kind of ["keydown", "keypress", "keyup"])   // Enter in a box would be sent when the connection returns
    document.addEventListener(kind, event => {
      if (event.key === "Enter" && event.target.closest?.(".shop[data-lost=true]")) { event.preventDefault(); event.stopImmediatePropagation(); }
    }, true);
  ask();
  return forms;
}

export default { render({ model, el }) {
  el.append(Object.assign(document.createElement("style"), { textContent: model.get("css") +
    ".shop[data-lost=true] :is(.shop-saved, [data-state=good]) { visibility: hidden }" }));   // hide an old "saved"
  const forms = window.shoplibForms ??= watch();
  forms.set(el, model.widget_manager);
  // A notebook uses arrow and letter keys as shortcuts outside text boxes: on a slider, a list, a button.
  if (!window.shoplibKeys) {
    window.shoplibKeys = true;
    document.addEventListener("focusin", ({ target }) => {
      if (target.closest(".shop") && !target.matches(":read-write")) target.setAttribute("data-lm-suppress-shortcuts", "true");
    });
  }
  return () => forms.delete(el);
} };
