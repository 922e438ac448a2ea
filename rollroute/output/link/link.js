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

  const slopes = [...svg.querySelectorAll("g[data-i]")];
  const [shields, streets] = ["rect", "text"].map((tag) => [...svg.querySelectorAll("g[data-name]")].filter((node) => node.firstChild.tagName === tag));
  const north = document.querySelector(".window .north");

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
    document.documentElement.style.setProperty("--share", round * unit * data.scale / box.w);
    document.documentElement.style.setProperty("--ratio", box.w / box.h);
    document.querySelector(".scale-words").textContent = round + (data.feet ? " ft" : " m");
    for (const node of svg.querySelectorAll("g.k:not([data-m])")) node.setAttribute("transform", node.dataset.at + " scale(" + k + ")");
    arrange(k, size);
  }

  // Everything asks for room in the order of its weight; marks that step aside have a leader to their own place.
  function arrange(k, size) {
    const onScreen = ([x, y]) => [(x - box.x) / k, (y - box.y) / k];
    const crowd = placing.crowd(size.width, size.height, data.way.map(onScreen));
    const all = placed.map((node) => {
      const mark = data.marks[node.dataset.m];
      const [x, y] = onScreen([mark.x, mark.y]);
      return { node, mark, x, y, room: mark.room.map(([right, down, wide, high]) => placing.around(x + right, y + down, wide, high)) };
    });
    const ends = all.filter(({ mark }) => mark.away);
    const [halts, others] = [true, false].map((halt) => all.filter(({ mark }) => mark.moves && !mark.away && mark.halt === halt));
    let leaders = "", dots = "";
    const settle = (rows) => {
      for (const row of rows) row.stays = crowd.claim(row.room[0]);
      for (const row of rows.filter((one) => !one.stays)) {
        const { mark } = row;
        [row.dx, row.dy] = crowd.stepAside(row.x, row.y);
        if (!row.dx && !row.dy) continue;
        leaders += "M" + mark.x + " " + mark.y + "l" + row.dx * k + " " + row.dy * k;
        dots += "M" + mark.x + " " + mark.y + "h0";
      }
    };
    if (north) crowd.take(cornerOf(north, size));
    for (const { room } of ends) room.forEach(crowd.take);
    for (const row of ends) sayBeside(row, crowd);
    settle(halts);
    for (const row of halts) sayBeside(row, crowd);
    for (const node of slopes) node.toggleAttribute("hidden", true);
    settleSlopes(slopes.filter((node) => node.dataset.i === "0"), onScreen, crowd);
    settle(others);
    settleFigures(onScreen, crowd);
    for (const row of others) sayBeside(row, crowd);
    for (const node of shields) settleWords(node, k, size, crowd);
    const stride = Math.max(1, Math.ceil(30 * k / data.arrow));
    settleSlopes(slopes.filter((node) => node.dataset.i !== "0" && Number(node.dataset.i) % stride === 0), onScreen, crowd);
    for (const row of all.filter(({ mark }) => !mark.moves)) {
      const isLikeWay = row.mark.off !== null && row.mark.off / k < data.barPx;
      const isShown = !isLikeWay && row.room.every(crowd.isFree);
      row.node.toggleAttribute("hidden", !isShown);
      if (isShown) row.room.forEach(crowd.take);
    }
    for (const { node, mark, dx = 0, dy = 0 } of all) {
      node.setAttribute("transform", "translate(" + (mark.x + dx * k) + " " + (mark.y + dy * k) + ") scale(" + k + ")");
    }
    for (const node of streets) settleWords(node, k, size, crowd);
    svg.querySelector(".leader").setAttribute("d", leaders);
    svg.querySelector(".leader-dot").setAttribute("d", dots);
  }

  function sayBeside({ node, mark, x, y, dx = 0, dy = 0 }, crowd) {
    const words = node.querySelector(".beside");
    if (!words) return;
    const [left, top, wide, high] = ["x", "y", "width", "height"].map((name) => Number(words.firstChild.getAttribute(name)));
    const place = crowd.choose(x + dx, y + dy, wide, high, placing.beside(wide, high, mark.away));
    words.toggleAttribute("hidden", !place);
    if (place) words.setAttribute("transform", "translate(" + (place[0] - left - wide / 2) + " " + (place[1] - top - high / 2) + ")");
  }

  const placeOf = (node) => node.dataset.at.match(/-?[\d.]+/g).map(Number);
  function settleSlopes(nodes, onScreen, crowd) {
    for (const node of nodes) {
      const [x, y] = onScreen(placeOf(node));
      node.toggleAttribute("hidden", !crowd.claim(placing.around(x, y, 22, 22)));
    }
  }

  function settleFigures(onScreen, crowd) {
    for (const node of slopes.filter((one) => one.dataset.f && !one.hasAttribute("hidden"))) {
      const [x, y] = onScreen(placeOf(node));
      const [right, down, wide, high] = node.dataset.f.split(" ").map(Number);
      node.lastElementChild.toggleAttribute("hidden", !crowd.claim(placing.around(x + right, y + down, wide, high)));
    }
  }

  function settleWords(node, k, size, crowd) {
    node.toggleAttribute("hidden", k > 1.25); // the list says them too
    if (k > 1.25) return;
    const [own, page] = [node.getBoundingClientRect(), svg.getBoundingClientRect()];
    node.toggleAttribute("hidden", !crowd.claim([own.left - page.left, own.top - page.top, own.right - page.left, own.bottom - page.top]));
  }

  function cornerOf(node, size) {
    const [own, page] = [node.getBoundingClientRect(), svg.getBoundingClientRect()];
    return [own.left - page.left, own.top - page.top, size.width, own.bottom - page.top];
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
