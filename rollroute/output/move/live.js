"use strict";
// Draws a move on a Leaflet map. Every name arrives as JSON and enters the page as text, never as markup.
const rollrouteMove = (() => {
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const printed = window.matchMedia("print");
  const HALF = 18;

  function element(tag, className, text) {
    const made = document.createElement(tag);
    if (className) made.className = className;
    if (text) { made.textContent = text; made.dir = "auto"; }
    return made;
  }

  function paintGround(map, data, layers) {
    const colours = data.themes[dark.matches && !printed.matches ? "dark" : "light"];
    const metresPerPixel = 40075016.7 * Math.cos(map.getCenter().lat * Math.PI / 180) / 256 / 2 ** map.getZoom();
    const road = Math.max(2, Math.min(40, 7 / metresPerPixel));
    const area = (fill, edge) => ({ fill: true, fillColor: fill, fillOpacity: 1, color: edge || fill, weight: 1, opacity: 1 });
    const styles = {
      green: area(colours.green), water: area(colours.water, colours["water-hatch"]),
      waterways: { color: colours["water-hatch"], weight: Math.max(1.5, 2 / metresPerPixel), opacity: 1, fill: false },
      roads: { color: colours.road, weight: road, opacity: 1, fill: false },
      buildings: area(colours.building, colours["building-edge"]),
    };
    for (const [name, layer] of Object.entries(layers)) if (styles[name]) layer.setStyle(styles[name]);
    map.getContainer().style.background = colours.paper;
  }

  function open(map, data, at, title, rows, origin) {
    const box = element("div", "card");
    const heading = element("h3", "", title);
    heading.tabIndex = -1;
    const list = element("dl");
    for (const [what, value] of rows) list.append(element("dt", "", what), element("dd", "", value));
    box.append(heading);
    if (rows.length) box.append(list);
    const popup = L.popup({ maxWidth: 300, autoPanPadding: [16, 16], offset: [0, -8] }).setLatLng(at).setContent(box).openOn(map);
    const node = popup.getElement();
    node.setAttribute("role", "dialog");
    node.setAttribute("aria-label", title);
    node.querySelector(".leaflet-popup-close-button").setAttribute("aria-label", data.words.close);
    node.querySelector(".leaflet-popup-content").tabIndex = 0; // it scrolls on a small screen
    heading.focus({ preventScroll: true });
    popup.on("remove", () => { if (origin) origin.focus({ preventScroll: true }); });
  }

  // Vans that share a road lie beside each other: each van's lines are a few pixels aside, the same on every zoom.
  function tourPane(map, data, group) {
    const n = Math.max(0, data.vans.indexOf(group));
    const name = "tour" + n;
    if (!map.getPane(name)) {
      const pane = map.createPane(name);
      const aside = 4.5 * (n - (data.vans.length - 1) / 2);
      pane.style.zIndex = 420;
      pane.style.left = pane.style.top = aside + "px";
    }
    return name;
  }

  function drawLine(map, data, line) {
    const styles = {
      tour: [["move-under", 7, ""], ["move-tour", 3.5, line.d]], beeline: [["move-under", 6, ""], ["move-tour", 2.5, "2 8"]],
      tie: [["move-tie", 2, ""]], roll: [["way-casing", 13, ""], ["way-line", 8, ""]],
    }[line.k];
    const parts = styles.map(([className, weight, dashArray]) =>
      L.polyline(line.c, { pane: line.k === "roll" ? "way" : tourPane(map, data, line.g), className, weight, dashArray: dashArray || null, interactive: false,
                           lineCap: "butt", smoothFactor: 0.5 }));
    if (line.k !== "tie") {
      const touch = L.polyline(line.c, { pane: "touch", className: "move-touch", weight: 22 });
      touch.on("click", (event) => { L.DomEvent.stop(event); open(map, data, event.latlng, line.t, line.r, null); });
      parts.push(touch);
    }
    return { group: line.g, layer: L.layerGroup(parts) };
  }

  // Marks of the very same place (two riders at a shelter) hang one below the other, the weightiest on the place itself.
  function stacked(marks) {
    const piles = new Map();
    for (const mark of [...marks].sort((a, b) => b.z - a.z)) {
      const key = mark.p.map((degrees) => degrees.toFixed(5)).join();
      mark.below = piles.get(key) || 0;
      piles.set(key, mark.below + 1);
    }
    return marks;
  }

  function drawMark(map, data, mark) {
    const box = element("div", "mark-box");
    box.innerHTML = mark.svg; // drawn by the program that wrote this page
    if (mark.b) box.append(element("span", "beside", mark.b));
    const icon = L.divIcon({ html: box, className: "mark-icon mark-" + mark.k, iconSize: [2 * HALF, 2 * HALF],
                             iconAnchor: [HALF, HALF - 30 * mark.below] });
    const marker = L.marker(mark.p, { icon, keyboard: true, riseOnHover: true, zIndexOffset: mark.z });
    marker.on("add", () => {
      const node = marker.getElement();
      node.setAttribute("aria-label", mark.t);
      node.onkeydown = (event) => {
        if (event.key === "Enter" || event.key === " ") { event.preventDefault(); event.stopPropagation(); marker.fire("click"); }
      };
    });
    marker.on("click", () => open(map, data, mark.p, mark.t, mark.r, marker.getElement()));
    return { group: mark.g, layer: marker, mark };
  }

  // Words that would lie on others wait for a closer look; the weightiest get their place first.
  function arrange(drawn) {
    const taken = [];
    const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
    for (const one of drawn) {
      const node = one.layer.getElement && one.layer.getElement();
      const words = node && node.querySelector(".beside");
      if (!words) continue;
      const own = words.getBoundingClientRect();
      const free = !taken.some((other) => meet(own, other));
      words.classList.toggle("away", !free);
      if (free) taken.push(own);
    }
  }

  function draw(map, data, layers) {
    for (const [name, level] of [["hazard", 410], ["way", 430], ["touch", 440]]) {
      map.createPane(name).style.zIndex = level;
    }
    map.getContainer().setAttribute("aria-label", data.words.map);
    map.getContainer().setAttribute("role", "application");
    L.control.zoom({ zoomInTitle: data.words.zoomIn, zoomOutTitle: data.words.zoomOut }).addTo(map);
    for (const hazard of data.hazards) {
      L.polygon(hazard.c.map((ring) => [ring]), { pane: "hazard", className: "hazard-plate", weight: 7, interactive: false }).addTo(map);
      const area = L.polygon(hazard.c.map((ring) => [ring]), { pane: "hazard", className: "hazard", weight: 3 }).addTo(map);
      area.on("click", (event) => { L.DomEvent.stop(event); open(map, data, event.latlng, hazard.t, [], null); });
    }
    const lines = data.lines.map((line) => drawLine(map, data, line));
    const marks = stacked(data.marks).map((mark) => drawMark(map, data, mark));
    const drawn = [...lines, ...marks];
    for (const one of drawn) one.layer.addTo(map);
    const byWeight = [...marks].sort((a, b) => b.mark.z - a.mark.z);

    const refresh = () => { paintGround(map, data, layers); arrange(byWeight); };
    const whole = () => map.fitBounds(data.bounds, { animate: false, paddingTopLeft: [16, 16], paddingBottomRight: [map.getSize().x > 600 ? 110 : 40, 24] });
    map.on("zoomend moveend", refresh);
    map.getContainer().addEventListener("keydown", (event) => { if (event.key === "Escape") map.closePopup(); });
    for (const query of [dark, printed]) query.addEventListener("change", refresh);
    whole();
    refresh();

    document.querySelector(".tools").hidden = false;
    document.querySelector(".whole").addEventListener("click", whole);
    for (const box of document.querySelectorAll("input[data-group]")) {
      box.addEventListener("change", () => {
        for (const one of drawn) if (one.group === box.dataset.group) box.checked ? one.layer.addTo(map) : one.layer.remove();
        refresh();
      });
    }
    for (const button of document.querySelectorAll("button[data-mark]")) {
      const one = marks[Number(button.dataset.mark)];
      button.hidden = false;
      button.addEventListener("click", () => {
        if (!map.hasLayer(one.layer)) one.layer.addTo(map);
        map.setView(one.mark.p, Math.max(map.getZoom(), 17), { animate: false });
        map.getContainer().scrollIntoView({ block: "nearest" });
        open(map, data, one.mark.p, one.mark.t, one.mark.r, button);
      });
    }
  }

  return { draw };
})();
