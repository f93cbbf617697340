// A prebuilt extension of JupyterLab and of the pages, written by hand: it needs no build.  A notebook of shoplib runs by
// itself when it is shown for the first time.  When its kernel was lost, it is shown again with a new one, in its place.
// JupyterLab loads it as a container of module federation: init(shared modules), get(module).
const OURS = /^(notebooks\/)?\d\d-[a-z-]+\.ipynb$/;   // in the folder that `shoplib open` serves; other notebooks are left alone
const WIDGET = "application/vnd.jupyter.widget-view+json";
const LOST = ".jupyter-widgets-error-widget";   // stands where a widget should be that was lost on its way
let shared = {};

const module = async name => (await Object.values(shared[name])[0].get())();
const plain = output => {   // a widget of a kernel that has ended cannot be shown; the text that was saved with it can
  if (!output.data?.[WIDGET]) return output;
  const { [WIDGET]: gone, ...data } = output.data;
  return { ...output, data };
};

function atRest(notebook) {   // show no widget that is not there
  for (const { model } of notebook.widgets)
    if (model.type === "code" && model.outputs.toJSON().some(o => o.data?.[WIDGET])) model.outputs.fromJSON(model.outputs.toJSON().map(plain));
}

const pause = ms => new Promise(done => setTimeout(done, ms));

// A cell that runs earlier than JupyterLab listens to its widgets loses some of them.  It listens once its manager of
// widgets has heard from the kernel which widgets there are.
async function widgetsCanCome(panel) {
  for (const end = Date.now() + 10_000; Date.now() < end && !panel.isDisposed; await pause(50)) {
    const shown = panel.content.rendermime.createRenderer(WIDGET);
    const manager = await Promise.race([shown._manager?.promise, pause(50)]);
    shown.dispose();
    if (manager?.restoredStatus) return manager;
  }
}

async function run(panel, NotebookActions) {
  const notebook = panel.content, session = panel.sessionContext;
  const scroller = notebook.node.querySelector(".jp-WindowedPanel-outer") ?? notebook.node, top = scroller.scrollTop;
  const hold = () => { scroller.scrollTop = top; };
  notebook.activeCellIndex = 0; notebook.deselectAll();
  const holding = setInterval(hold, 50);   // cells grow while they run
  const release = () => clearInterval(holding);
  for (const kind of ["wheel", "pointerdown", "keydown", "touchstart"]) panel.node.addEventListener(kind, release, { once: true, capture: true });
  try { await NotebookActions.runCells(notebook, notebook.widgets, session); }
  finally { hold(); setTimeout(release, 400); }
}

// ---- a page: its cells are asked for again, and its widgets are made from their kernel
async function renew(manager) {
  const old = manager.kernel, late = AbortSignal.timeout(90_000);   // a busy machine takes long to prepare a page
  const answer = await fetch(location.pathname, { cache: "no-store", signal: late }), html = await answer.text();
  const fresh = new DOMParser().parseFromString(html, "text/html"), config = fresh.getElementById("jupyter-config-data");
  if (!answer.ok || !config || !html.includes("</html>")) throw new Error("the page did not come in full");
  const kernel = old.clone({ model: { id: JSON.parse(config.textContent).kernelId, name: "python3" }, handleComms: true });
  await Promise.race([kernel.info, new Promise((_, no) => setTimeout(no, 20_000, new Error("the kernel does not answer")))]);
  manager._kernel = kernel;   // as its constructor does it
  kernel.statusChanged.connect((_, status) => manager._handleKernelStatusChange(status));
  kernel.connectionStatusChanged.connect((_, status) => manager._handleKernelConnectionStatusChange(status));
  manager._handleKernelChanged({ name: "kernel", oldValue: null, newValue: kernel });
  manager._models = Object.create(null); manager._modelsSync = new Map();
  await manager.restoreWidgets();
  const top = scrollY;
  for (const cell of fresh.querySelectorAll("#rendered_cells [cell-index]")) {
    const here = document.querySelector(`#rendered_cells [cell-index="${cell.getAttribute("cell-index")}"]`);
    if (!here || !cell.innerHTML.includes(WIDGET)) continue;
    cell.querySelectorAll("script:not([type])").forEach(script => script.remove());
    here.replaceChildren(...document.importNode(cell, true).childNodes);
    for (const script of here.querySelectorAll("script[type='application/vnd.voila.cell-output+json']")) {
      const output = JSON.parse(script.textContent), mime = manager.rendermime.preferredMimeType(output.data, "any"), parent = script.parentElement;
      if (!mime) continue;
      const shown = manager.rendermime.createRenderer(mime);
      await shown.renderModel(output);
      shown.addClass("jp-OutputArea-output"); script.remove();
      shown.constructor.attach(shown, parent);
    }
  }
  scrollTo(0, top);
  old.dispose();
}

function onPages(app) {
  let busy = false;
  addEventListener("shoplib-revive", async event => {
    event.preventDefault();
    if (busy) return;
    busy = true;
    try { await renew(app.widgetManager); document.body.dataset.renewed = String(+(document.body.dataset.renewed ?? 0) + 1); }
    catch (why) { console.info("shown again later:", String(why)); }   // it is asked for again
    finally { busy = false; }
  });
  let left = 3;   // a form that cannot be drawn at all is not asked for again and again
  new MutationObserver(() => {
    if (!busy && left && document.querySelector(LOST)) { left--; dispatchEvent(new CustomEvent("shoplib-revive", { cancelable: true, detail: {} })); }
  }).observe(document.body, { childList: true, subtree: true });
}

// ---- JupyterLab
async function activate(app) {
  if (app.name === "Voila") return onPages(app);
  const { NotebookActions } = await module("@jupyterlab/notebook");
  const known = new Map();   // panel → { running, lost, waits, ended }
  const answered = kernel => new Promise((yes, no) => { kernel.info.then(yes, no); kernel.disposed.connect(() => no(new Error("there is another kernel"))); });
  const start = async panel => {
    const state = known.get(panel);
    if (state.running) return;
    state.running = true; state.lost = false;
    try {
      await panel.context.ready; await panel.sessionContext.ready;
      const kernel = panel.sessionContext.session?.kernel;
      if (!kernel) { state.waits = true; return; }   // it runs as soon as there is one
      kernel.commsOverSubshells = "disabled";   // a form answers in the thread that runs the cells, not beside it
      await answered(kernel); state.manager = await widgetsCanCome(panel);
      await run(panel, NotebookActions);
      await pause(200);   // until the widgets that came last are drawn
      if (panel.node.querySelector(LOST)) { console.info("a widget was lost on its way: the notebook runs again"); await run(panel, NotebookActions); }
      panel.node.dataset.ran = String(+(panel.node.dataset.ran ?? 0) + 1);
    } catch (why) { console.info("runs again later:", String(why)); state.waits = true; }
    finally { state.running = false; if (state.lost) again(panel); }
  };
  const again = async panel => {   // the kernel of this notebook was lost, and there is a new one, or one is asked for
    const session = panel.sessionContext, kernel = session.session?.kernel;
    if (panel.isDisposed || known.get(panel).ended) return;
    if (known.get(panel).running) { known.get(panel).lost = true; return; }
    atRest(panel.content);
    if (!kernel || kernel.isDisposed || ["dead", "unknown"].includes(kernel.status) || kernel.connectionStatus === "disconnected") {
      try { await session.changeKernel({ name: "python3" }); } catch { setTimeout(() => again(panel), 2000); return; }
    }
    await start(panel);
  };
  const look = panel => {
    if (!panel?.sessionContext || !panel.content?.widgets || !OURS.test(panel.context?.path ?? "") || known.has(panel) || !panel.isVisible) return;
    if (sessionStorage.getItem("shoplib-run") === "off") { known.set(panel, { ended: true }); return; }   // to look at a notebook as it was saved
    const state = { running: false, lost: false, waits: false, ended: false }, session = panel.sessionContext, end = session.shutdown.bind(session);
    known.set(panel, state);
    session.shutdown = () => { state.ended = true; return end(); };   // a person ended it: it is not lost
    panel.disposed.connect(() => { known.delete(panel); delete session.shutdown; });   // JupyterLab's log holds the session longer; it shall not hold the panel
    panel.context.ready.then(() => atRest(panel.content));
    panel.context.disposed.connect(() => {   // its last view is closed: anywidget holds each model, and so all widgets of the notebook, until it is told
      for (const model of Object.values(state.manager?._models ?? {})) model.then(it => it.close(true), () => {});   // true: the kernel is not told
    });
    panel.sessionContext.statusChanged.connect((_, status) => {
      if (["restarting", "autorestarting"].includes(status)) atRest(panel.content);   // its widgets are gone
      if (status === "autorestarting") state.lost = true;   // after a restart that a person asked for, that person runs it
      if (status === "idle" && state.lost) again(panel);
      else if (status === "idle" && state.waits && !state.running && !state.ended) { state.waits = false; start(panel); }
    });
    start(panel);
  };
  addEventListener("shoplib-revive", event => {   // static/ground.js: a kernel is gone
    for (const panel of known.keys()) if (!event.detail.kernel || panel.sessionContext.session?.kernel?.id === event.detail.kernel) { event.preventDefault(); again(panel); }
  });
  app.shell.currentChanged.connect((_, change) => setTimeout(() => look(change.newValue)));
  app.shell.layoutModified?.connect(() => look(app.shell.currentWidget));
  app.restored.then(() => look(app.shell.currentWidget));   // not awaited: it waits for every plugin
}

(window._JUPYTERLAB ??= {})["shoplib-run"] = {
  init: async scope => { shared = scope; },
  get: async () => () => ({ __esModule: true, default: { id: "shoplib-run:plugin", autoStart: true, activate } }),
};
