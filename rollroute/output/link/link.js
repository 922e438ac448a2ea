"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const svg = document.querySelector("svg.route");
  const pane = svg.parentElement;
  const card = document.getElementById("card");
  const say = (text, values) => text.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);

  // --- looking: one box of the drawing, moved and zoomed ------------------------------------------------------------
  let box = { x: 0, y: 0, w: data.width, h: data.height };
  const placed = [...svg.querySelectorAll("g[data-m]")].sort((a, b) => data.marks[b.dataset.m].z - data.marks[a.dataset.m].z || a.dataset.m - b.dataset.m);

  function look(next, size = svg.getBoundingClientRect()) {
    const ratio = size.width / size.height;
    let w = Math.min(Math.max(next.w, 40), data.width * 2);
    let h = w / ratio;
    const [cx, cy] = [next.x + next.w / 2, next.y + next.h / 2];
    if (next.fit && h < next.h) { h = next.h; w = h * ratio; }
    box = { w, h, x: Math.min(Math.max(cx, 0), data.width) - w / 2, y: Math.min(Math.max(cy, 0), data.height) - h / 2 };
    svg.setAttribute("viewBox", [box.x, box.y, box.w, box.h].join(" "));
    const k = box.w / size.width;
    svg.style.setProperty("--k", k);
    const unit = data.feet ? 0.3048 : 1;
    const most = size.width / 4 * k / data.scale / unit;
    const round = [5, 2, 1].map((step) => step * 10 ** Math.floor(Math.log10(most))).find((step) => step <= most);
    document.querySelector(".scale-bar").style.width = 100 * round * unit * data.scale / box.w + "%";
    document.querySelector(".scale-words").textContent = round + (data.feet ? " ft" : " m");
    arrange(k, size);
    for (const node of svg.querySelectorAll("g.k:not([data-m])")) {
      node.setAttribute("transform", node.dataset.at + " scale(" + k + ")");
      if (node.children.length > 1 && "i" in node.dataset) node.lastElementChild.toggleAttribute("hidden", k > 1.25);
      if ("name" in node.dataset) node.toggleAttribute("hidden", k > 1.25);
      if ("i" in node.dataset) node.toggleAttribute("hidden", Number(node.dataset.i) % Math.max(1, Math.ceil(30 * k / data.arrow)) !== 0);
    }
  }

  // Marks that would hide each other step aside on a leader line; small ones wait for a closer look.
  const ASIDE = [[0, 0]].concat(...[34, 58, 82, 108].map((r) => [0, 180, 90, 270, 45, 135, 225, 315].map((angle) =>
    [Math.round(r * Math.cos(angle * Math.PI / 180)), Math.round(r * Math.sin(angle * Math.PI / 180))])));

  function arrange(k, size) {
    const taken = [];
    const isFree = ([l, t, r, b]) => !taken.some(([l2, t2, r2, b2]) => l < r2 && l2 < r && t < b2 && t2 < b);
    const square = (x, y) => [x - 16, y - 16, x + 16, y + 16];
    const isInside = (x, y) => x > 16 && y > 16 && x < size.width - 16 && y < size.height - 16;
    let leaders = "";
    for (const node of placed) {
      const mark = data.marks[node.dataset.m];
      const [x, y] = [(mark.x - box.x) / k, (mark.y - box.y) / k]; // on the screen
      const fits = ([a, b]) => isFree(square(x + a, y + b)) && (a === 0 && b === 0 || isInside(x + a, y + b));
      const [dx, dy] = (mark.moves && !mark.end && ASIDE.find(fits)) || [0, 0];
      const isShown = mark.moves || isFree(square(x, y)) && (mark.off === null || mark.off / k >= data.barPx);
      node.toggleAttribute("hidden", !isShown);
      if (isShown) taken.push(square(x + dx, y + dy));
      if (dx || dy) leaders += "M" + mark.x + " " + mark.y + "l" + dx * k + " " + dy * k;
      node.setAttribute("transform", "translate(" + (mark.x + dx * k) + " " + (mark.y + dy * k) + ") scale(" + k + ")");
      const beside = node.querySelector(".beside");
      if (!beside) continue;
      const [left, top, wide, high] = ["x", "y", "width", "height"].map((name) => Number(beside.firstChild.getAttribute(name)));
      const own = [x + dx + left, y + dy + top, x + dx + left + wide, y + dy + top + high];
      const isSaid = mark.end || own[0] > 0 && own[2] < size.width && isFree(own);
      beside.toggleAttribute("hidden", !isSaid);
      if (isSaid) taken.push(own);
    }
    svg.querySelector(".leader").setAttribute("d", leaders);
  }

  const zoom = (factor, px = 0.5, py = 0.5) => {
    const [w, h] = [box.w / factor, box.h / factor];
    look({ x: box.x + (box.w - w) * px, y: box.y + (box.h - h) * py, w, h });
  };
  const move = (dx, dy) => look({ ...box, x: box.x + dx * box.w, y: box.y + dy * box.h });
  function fit() {
    const high = pane.clientWidth * data.height / data.width;
    svg.style.height = Math.max(270, Math.min(high, innerHeight * 0.62)) + "px";
    const margin = Math.max(0, 34 * (data.width / pane.clientWidth - 1)); // marks keep their size where the drawing shrinks
    look({ x: -margin, y: -margin, w: data.width + 2 * margin, h: data.height + 2 * margin, fit: true });
  }
  const centre = (x, y, w) => look({ x: x - w / 2, y: y - 1, w, h: 2 });

  const fingers = new Map();
  let moved = 0;
  svg.addEventListener("pointerdown", (event) => { fingers.set(event.pointerId, event); moved = 0; });
  addEventListener("pointerup", (event) => fingers.delete(event.pointerId));
  addEventListener("pointercancel", (event) => fingers.delete(event.pointerId));
  svg.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const size = svg.getBoundingClientRect();
    const [dx, dy] = [event.clientX - before.clientX, event.clientY - before.clientY];
    moved += Math.abs(dx) + Math.abs(dy);
    const other = [...fingers.values()].find((finger) => finger.pointerId !== event.pointerId);
    if (other) {
      const apart = (one) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
      const [mx, my] = [(event.clientX + other.clientX) / 2 - size.left, (event.clientY + other.clientY) / 2 - size.top];
      if (apart(before) > 0) zoom(apart(event) / apart(before), mx / size.width, my / size.height);
    } else move(-dx / size.width, -dy / size.height);
    fingers.set(event.pointerId, event);
  });
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== pane) return; // a page that scrolls must not be caught by its map
    event.preventDefault();
    const size = svg.getBoundingClientRect();
    zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, (event.clientX - size.left) / size.width, (event.clientY - size.top) / size.height);
  }, { passive: false });
  pane.addEventListener("keydown", (event) => {
    if (event.target !== pane) return;
    const keys = { ArrowLeft: () => move(-0.2, 0), ArrowRight: () => move(0.2, 0), ArrowUp: () => move(0, -0.2), ArrowDown: () => move(0, 0.2),
      "+": () => zoom(1.4), "-": () => zoom(1 / 1.4), 0: fit };
    if (keys[event.key]) { event.preventDefault(); keys[event.key](); }
  });

  // --- marks open a card --------------------------------------------------------------------------------------------
  function open(mark, origin) {
    card.replaceChildren();
    const add = (parent, tag, text) => { const node = document.createElement(tag); node.textContent = text; parent.append(node); return node; };
    add(card, "h3", mark.t);
    const list = document.createElement("dl");
    for (const [what, value, rank] of mark.r) { add(list, "dt", what); add(list, "dd", value + (rank ? " (" + rank + ")" : "")); }
    if (mark.r.length) card.append(list);
    const close = add(card, "button", data.words.close);
    close.addEventListener("click", () => { card.hidden = true; origin?.focus(); });
    card.hidden = false;
    card.focus({ preventScroll: false });
  }
  card.addEventListener("keydown", (event) => { if (event.key === "Escape") card.querySelector("button").click(); });

  function wake() {
    document.documentElement.classList.add("live");
    svg.setAttribute("role", "group");
    const nodes = [...svg.querySelectorAll("g.k")];
    for (const node of nodes) node.dataset.at = node.getAttribute("transform");
    for (const node of nodes) {
      const mark = data.marks[node.dataset.m];
      if (!mark) { node.setAttribute("aria-hidden", "true"); continue; }
      node.setAttribute("role", "button");
      node.setAttribute("tabindex", "0");
      node.setAttribute("aria-label", mark.t);
      node.addEventListener("click", () => { if (moved < 10) open(mark, node); });
      node.addEventListener("keydown", (event) => {
        if (event.key === "Enter" || event.key === " ") { event.preventDefault(); open(mark, node); }
      });
    }
    const actions = { closer: () => zoom(1.5), further: () => zoom(1 / 1.5), whole: fit, here: findMe };
    document.querySelector(".buttons").hidden = false;
    for (const button of document.querySelectorAll("[data-do]")) button.addEventListener("click", actions[button.dataset.do]);
    addEventListener("resize", fit);
    addEventListener("beforeprint", () => look({ x: 0, y: 0, w: data.width, h: data.height }, data)); // at the size of the sheet
    addEventListener("afterprint", fit);
    fit();
  }

  // --- ticks: kept while the tab lives, never longer ----------------------------------------------------------------
  function ticks() {
    const boxes = [...document.querySelectorAll(".steps input")];
    let store = null;
    try { store = window.sessionStorage; } catch { return; }
    const key = "steps " + data.code + " " + data.made;
    const kept = new Set((store.getItem(key) || "").split(","));
    for (const tick of boxes) {
      if (kept.has(tick.value)) tick.checked = true;
      tick.addEventListener("change", () => store.setItem(key, boxes.filter((one) => one.checked).map((one) => one.value).join(",")));
    }
  }

  // --- where am I: only over HTTPS, only when asked; the position stays in this page --------------------------------
  function nearest(x, y) {
    let best = { off: Infinity };
    for (let n = 1; n < data.way.length; n += 1) {
      const [ax, ay, am] = data.way[n - 1];
      const [bx, by, bm] = data.way[n];
      const size = (bx - ax) ** 2 + (by - ay) ** 2;
      const part = size ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / size)) : 0;
      const off = Math.hypot(x - ax - part * (bx - ax), y - ay - part * (by - ay));
      if (off < best.off) best = { off, at: am + part * (bm - am) };
    }
    return best;
  }
  const length = (metres) => (data.feet ? Math.round(metres / 0.3048 / 10) * 10 + " ft" : Math.round(metres / 5) * 5 + " m");

  function show(position) {
    const { longitude, latitude, accuracy } = position.coords;
    const [x, y] = [(longitude - data.west) * data.perLon, (data.north - latitude) * data.perLat];
    const near = nearest(x, y);
    const off = near.off / data.scale;
    const status = document.getElementById("here");
    document.querySelectorAll(".steps .now").forEach((node) => node.classList.remove("now"));
    if (off > Math.max(60, 2 * accuracy)) {
      status.textContent = say(data.words.away, { distance: length(off), accuracy: length(accuracy) });
    } else {
      const next = data.steps.find((step) => step.at > near.at + 1) || data.steps[data.steps.length - 1];
      status.textContent = say(data.words.here, { distance: length(near.at), accuracy: length(accuracy), number: next.n, ahead: length(Math.max(0, next.at - near.at)) });
      document.getElementById("step-" + next.n)?.classList.add("now");
    }
    svg.querySelectorAll(".here-mark").forEach((node) => node.remove());
    const make = (name, attributes, parent) => {
      const node = document.createElementNS("http://www.w3.org/2000/svg", name);
      for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
      parent.append(node);
      return node;
    };
    make("circle", { class: "here-mark here-ring", cx: x, cy: y, r: accuracy * data.scale }, svg);
    const dot = make("g", { class: "k here-mark", "data-at": "translate(" + x + " " + y + ")" }, svg);
    make("circle", { class: "here", r: 8 }, dot);
    centre(x, y, Math.min(box.w, 400 * data.scale));
  }

  function findMe() {
    const status = document.getElementById("here");
    status.textContent = data.words.looking;
    navigator.geolocation.getCurrentPosition(show, () => { status.textContent = data.words.lost; }, { enableHighAccuracy: true, timeout: 20000 });
  }

  wake();
  ticks();
  if (location.protocol === "https:" && navigator.geolocation) document.querySelector("[data-do=here]").hidden = false;
  const until = document.querySelector("[data-until]");
  if (until && Date.now() > Date.parse(until.dataset.until)) { until.classList.add("over"); until.textContent = data.words.over; }
})();
