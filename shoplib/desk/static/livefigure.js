export default {
  initialize({ model }) {   // once per figure, before its views: a move sends only what changed
    const add = () => model.set("parts", { ...model.get("parts"), ...model.get("patch") });
    const hand = () => { for (const [id, news] of Object.entries(model.get("beside"))) if (id !== "move") model.widget_manager.get_model(id)?.then(other => other.set(news)); };
    model.on("change:patch", add); model.on("change:beside", hand);
    return () => { model.off("change:patch", add); model.off("change:beside", hand); };
  },
  render({ model, el }) {
    const host = el.appendChild(document.createElement("div"));
    el.tabIndex = 0;                                    // on a narrow screen it scrolls in its box, also by keys
    const root = host.attachShadow({ mode: "open" });   // matplotlib's ids and its "* {}" style stay inside
    let base = null, shown = {}, svg = null, frame = 0;
    const paint = () => {                               // always the newest state; older ones are skipped
      frame = 0;
      if (!model.get("svg")) return;                    // not drawn yet; a change event will follow
      if (base !== model.get("svg")) {
        base = model.get("svg"); shown = {};
        root.innerHTML = "<style>svg { width: 100%; height: auto; display: block }</style>" + base;
        svg = root.querySelector("svg"); svg.setAttribute("role", "img");
      }
      svg.setAttribute("aria-label", model.get("alt"));
      for (const [id, part] of Object.entries(model.get("parts")))
        if (shown[id] !== part) { root.getElementById(id).innerHTML = part; shown[id] = part; }
      host.dataset.painted = String(Number(host.dataset.painted || 0) + 1);
    };
    const later = () => { frame ||= requestAnimationFrame(paint); };
    const watched = "change:svg change:parts change:alt";
    model.on(watched, later); paint();
    return () => { model.off(watched, later); cancelAnimationFrame(frame); };
  },
};
