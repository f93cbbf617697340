// Under every form: its style, its keys, and its connection.  No press and no text is lost unseen: what is not saved says
// so within 2 s, a press that waits says so, and a form whose kernel is gone asks to be shown again (see shoplib-run).
const ALIVE = "/shoplib-alive";   // a path of shoplib's own server; a hub does not have it
const EVERY = 600, PATIENCE = 1000;   // ms; together less than 2 s, the time limit for showing a lost connection
const SILENT = 6000;   // ms without an answer from a kernel that is not busy: it does not know this form
const LOOK = "position:fixed;inset:0 0 auto 0;z-index:100000;margin:0;padding:14px 16px;background:#8c1d18;color:#fff;font:700 22px/1.35 sans-serif;text-align:center";
const WORDS = "<span>NOT SAVED – NO CONNECTION</span><br><span style='font-size:16px;font-weight:400'>Nothing is saved now. Keep this page open: it connects again by itself. If this message stays, start shoplib again.</span>";
const GONE = ["dead", "autorestarting"], CUT = ["connecting", "disconnected"];
const BOXES = "input:not([type=range]), textarea, select";

function watch() {   // one watch per page, for any number of forms
  const forms = new Map();   // element → { model, manager, dead, asked, pings }
  const typed = new Map();   // place in a form → what was typed there, and whether it was lost with its form
  const wired = new WeakSet();   // kernels that are listened to
  let server = "unknown", start = "", banner = null, pings = 0, woken = false, revived = false;
  const form = el => el.closest(".shop");
  const kernel = it => it.manager?.kernel;

  // ---- what was typed while nobody listened
  const inCell = at => [...at.closest("[cell-index], .jp-Cell")?.querySelectorAll(".shop") ?? []].indexOf(at);
  const where = at => {   // the same before and after: folds, and other notebooks, come and go
    const cell = at.closest("[cell-index], .jp-Cell"), panel = at.closest(".jp-NotebookPanel");
    return [panel?.id, cell?.getAttribute("cell-index") ?? [...panel?.querySelectorAll(".jp-Cell") ?? []].indexOf(cell), inCell(at)].join("/");
  };
  const label = box => (box.closest(".shop-field")?.querySelector(".shop-label")?.firstChild?.textContent ?? box.ariaLabel ?? box.closest(".widget-text, .widget-textarea, .widget-dropdown")?.querySelector("label")?.textContent ?? "").trim();
  const place = box => {
    const at = form(box), all = [...at.querySelectorAll(BOXES)].filter(e => label(e) === label(box) && !e.dataset.r);
    return JSON.stringify([where(at), label(box), box.dataset.r ?? "", box.dataset.c ?? "", all.indexOf(box)]);
  };
  const bolt = box => { const card = box.closest(".tg-doing")?.querySelector(".tg-card"); return card ? `${card.dataset.stage}/${card.dataset.bolt}/${card.className}` : ""; };   // a guide: what is typed is for one bolt
  const find = (at, key) => [...at.querySelectorAll(BOXES)].find(box => place(box) === key);
  document.addEventListener("input", ({ target }) => {
    if (target.matches?.(BOXES) && form(target)) typed.set(place(target), { value: target.value, lost: form(target).dataset.lost === "true", bolt: bolt(target) });
  }, true);
  const offer = el => {   // in a form that was shown again
    const at = form(el), open = [];
    if (!revived || at.querySelector(".shop-typed")) return;   // one question at a time
    for (const [key, it] of typed) {
      const box = it.lost && JSON.parse(key)[0] === where(at) && find(at, key);
      if (!box) continue;   // it may still come: the forms of a page are not shown at one moment
      if (box.value !== it.value) open.push([key, it, box]); else typed.delete(key);
    }
    if (!open.length) return;
    const bar = document.createElement("div"), words = document.createElement("p"); bar.className = "shop-typed"; bar.setAttribute("role", "status");
    const said = open.map(([, it, box]) => `${label(box)} “${it.value}”`).join("; "), other = open.some(([, it, box]) => it.bolt !== bolt(box));
    words.textContent = other ? `Typed before the connection was lost: ${said}. The guide has moved on since, so it may be saved. Look at “All ticks” below.` : `Typed before the connection was lost, not saved: ${said}.`;
    const press = (text, does) => { const b = document.createElement("button"); b.type = "button"; b.className = "jupyter-button widget-button"; b.textContent = text; b.addEventListener("click", () => { for (const [key, it] of open) if (typed.get(key) === it) typed.delete(key); does(); bar.remove(); }); return b; };
    bar.append(words, ...other ? [] : [press("Put it back", () => { for (const [key, it] of open) put(find(at, key), it.value); })], press("Forget it", () => {}));
    el.append(bar);
  };
  const put = (box, value) => {
    if (!box) return;
    Object.getOwnPropertyDescriptor(Object.getPrototypeOf(box), "value").set.call(box, value);
    for (const kind of ["input", "change"]) box.dispatchEvent(new Event(kind, { bubbles: true }));
  };

  // ---- is the kernel there?
  const ping = (it, button) => {
    if (lost(it)) return;
    const n = ++pings; it.pings.set(n, { at: performance.now(), button });
    it.model.send({ ping: n });
    if (button) { button.classList.add("shop-waits"); button.setAttribute("aria-busy", "true"); }
  };
  const pong = (it, n) => {
    for (const [k, { button }] of it.pings) if (k <= n) { it.pings.delete(k); button?.classList.remove("shop-waits"); button?.removeAttribute("aria-busy"); }
  };
  const silent = it => [...it.pings.values()].some(p => performance.now() - p.at > SILENT) && kernel(it)?.status !== "busy";
  const listen = it => {
    const k = kernel(it); if (!k || wired.has(k)) return;
    wired.add(k);
    k.statusChanged.connect((_, status) => { if (GONE.includes(status)) { for (const other of forms.values()) if (kernel(other) === k) other.dead = true; show(); } });
    let cut = false;
    k.connectionStatusChanged.connect((_, status) => {
      if (CUT.includes(status)) cut = true;
      else if (cut) { cut = false; for (const other of forms.values()) if (kernel(other) === k) { other.pings.clear(); ping(other); } }   // does it still know us?
      show();
    });
  };
  const ask = async () => {
    const stop = new AbortController(), began = performance.now(), late = setTimeout(() => stop.abort(), PATIENCE), before = server;
    try {
      const answer = await fetch(ALIVE, { signal: stop.signal, cache: "no-store" }), said = answer.ok ? await answer.text() : "";
      server = answer.ok ? "here" : "unknown";
      if (said && start && said !== start) for (const it of forms.values()) it.dead = true;   // another server: its kernels are others
      start = said || start;
      if (server === "here") for (const k of new Set([...forms.values()].map(kernel))) {
        const cut = CUT.includes(k?.connectionStatus), back = before === "gone" || woken;
        if (!k || !(cut || back)) continue;
        const mine = [...forms.values()].filter(it => kernel(it) === k);
        if ((await fetch(`/api/kernels/${k.id}`, { cache: "no-store" })).status === 404) for (const it of mine) it.dead = true;   // ended, as after a long sleep
        else if (cut && back) k.reconnect().catch(() => {});
        else if (!cut) mine.forEach(it => ping(it));   // does it still know us?
      }
      if (server === "here") woken = false;
    } catch { if (performance.now() - began < 1.3 * PATIENCE) server = "gone"; }   // otherwise this page was busy, not the server
    clearTimeout(late);
    show();
    if (server !== "unknown") setTimeout(ask, EVERY);
  };
  const lost = it => server === "gone" || it.dead || CUT.includes(kernel(it)?.connectionStatus) || GONE.includes(kernel(it)?.status);
  const revive = it => {   // whoever shows this form shows it again with a new kernel
    if (performance.now() - it.asked < 3000) return;
    it.asked = performance.now(); revived = true;
    for (const [key, text] of typed) {   // a box that was cleared since then, by saving, is not filled again
      if (text.lost) continue;   // it waits for an answer, however often its form is lost meanwhile
      const at = [...document.querySelectorAll(".shop")].find(e => where(e) === JSON.parse(key)[0]), box = at && find(at, key);
      const gone = at && [...forms].some(([el, other]) => form(el) === at && lost(other));   // not one that was shown again already
      if (box && gone) text.lost = box.value === text.value;
    }
    dispatchEvent(new CustomEvent("shoplib-revive", { cancelable: true, detail: { kernel: kernel(it)?.id } }));
  };
  const show = () => {
    let any = false;
    for (const [el, it] of forms) {
      const at = el.isConnected && form(el);
      if (!at) { if (it.seen) forms.delete(el); continue; }
      it.seen = true;
      listen(it);
      if (silent(it)) it.dead = true;
      const off = lost(it);
      any ||= off;
      if (it.dead && server !== "gone") revive(it);
      if (!off && it.stands) offer(el);
      if (off === (at.dataset.lost === "true") && !off) continue;
      at.dataset.lost = String(off);
      for (const button of at.querySelectorAll("button"))
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
  document.addEventListener("visibilitychange", () => { woken ||= !document.hidden; });   // a tablet wakes up
  document.addEventListener("click", ({ target }) => {   // answered as soon as the kernel has come to it
    const button = target.closest?.(".shop button"), it = button && [...forms].find(([el]) => form(el) === form(button))?.[1];
    if (it && !lost(it)) ping(it, button);
  }, true);
  for (const kind of ["keydown", "keypress", "keyup"])   // Enter in a box would be sent when the connection returns
    document.addEventListener(kind, event => {
      if (event.key === "Enter" && event.target.closest?.(".shop[data-lost=true]")) { event.preventDefault(); event.stopImmediatePropagation(); }
    }, true);
  document.addEventListener("focusin", ({ target }) => {   // a notebook uses arrow and letter keys as shortcuts outside text boxes: on a slider, a list, a button
    if (target.closest?.(".shop") && !target.matches(":read-write")) target.setAttribute("data-lm-suppress-shortcuts", "true");
  });
  ask();
  return { forms, pong, offer };
}

const MORE = `
.shop[data-lost=true] :is(.shop-draft, [data-state=good]) { visibility: hidden }
.shop .shop-waits { animation: shop-waits .2s .25s both; cursor: progress }
.shop .shop-waits::after { content: " waits …"; font-weight: 400; animation: shop-waits-words .1s .25s both }
@keyframes shop-waits { to { outline: 3px dashed currentColor; outline-offset: -5px } }
@keyframes shop-waits-words { from { visibility: hidden } to { visibility: visible } }
.shop-typed { border: 3px solid #8c1d18; border-radius: 4px; padding: 8px 12px; margin: 0 0 12px }
.shop-typed p { margin: 0 0 8px; font-size: 17px; font-weight: 700; overflow-wrap: anywhere }
.shop-typed button { min-height: 56px; width: auto; padding: 0 16px; margin: 0 8px 0 0 }`;

export default { render({ model, el }) {
  el.append(Object.assign(document.createElement("style"), { textContent: model.get("css") + MORE }));
  const { forms, pong, offer } = window.shoplibForms ??= watch();
  const it = { model, manager: model.widget_manager, dead: false, asked: -Infinity, pings: new Map(), seen: false, stands: false };
  forms.set(el, it);
  const heard = message => { if (message.pong) pong(it, message.pong); };
  model.on("msg:custom", heard);
  const stand = () => { it.stands = true; offer(el); };
  const later = () => el.isConnected ? setTimeout(stand, 1500) : forms.has(el) && setTimeout(later, 200);   // after the draft was read
  later();
  return () => { model.off("msg:custom", heard); forms.delete(el); };
} };
