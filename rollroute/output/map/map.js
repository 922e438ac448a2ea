"use strict";
// Draws the route on a Leaflet map. Every name arrives as JSON and enters the page as text, never as markup.
const rollroute = (() => {
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function element(tag, className, text) {
    const made = document.createElement(tag);
    if (className) made.className = className;
    if (text) made.textContent = text;
    return made;
  }

  // --- ground -------------------------------------------------------------------------------------------------------
  function hatch(colours) {
    const tile = element("canvas");
    tile.width = tile.height = 8;
    const pen = tile.getContext("2d");
    pen.fillStyle = colours.water;
    pen.fillRect(0, 0, 8, 8);
    pen.strokeStyle = colours["water-hatch"];
    pen.beginPath();
    pen.moveTo(0, 2.5);
    pen.lineTo(8, 2.5);
    pen.moveTo(0, 6.5);
    pen.lineTo(8, 6.5);
    pen.stroke();
    return pen.createPattern(tile, "repeat");
  }

  function paintGround(map, data, layers) {
    const colours = data.themes[dark.matches && !window.matchMedia("print").matches ? "dark" : "light"];
    const metresPerPixel = 40075016.7 * Math.cos(map.getCenter().lat * Math.PI / 180) / 256 / 2 ** map.getZoom();
    const road = Math.max(2.5, Math.min(40, 7 / metresPerPixel));
    const area = (fill, edge) => ({ fill: true, fillColor: fill, fillOpacity: 1, color: edge || fill, weight: 1, opacity: 1 });
    const line = (color, weight, dashArray) => ({ color, weight, opacity: 1, fill: false, dashArray });
    const styles = {
      green: area(colours.green), water: area(hatch(colours), colours["water-hatch"]),
      waterways: line(colours["water-hatch"], Math.max(1.5, 2 / metresPerPixel)),
      casings: line(colours["road-edge"], road + 2), roads: line(colours.road, road),
      paths: line(colours.path, Math.max(1.2, Math.min(3, 1.5 / metresPerPixel)), "4 3"),
      buildings: area(colours.building, colours["building-edge"]),
    };
    for (const [name, layer] of Object.entries(layers)) if (styles[name]) layer.setStyle(styles[name]);
    map.getContainer().style.background = colours.paper;
  }

  // --- what opens ---------------------------------------------------------------------------------------------------
  function card(title, rows, data) {
    const box = element("div", "card");
    const heading = element("h3", "", title);
    heading.tabIndex = -1;
    box.append(heading);
    const list = element("dl");
    for (const [what, value, rank] of rows) {
      const cell = element("dd", "", value);
      if (rank) cell.append(" ", element("small", "", "(" + rank + ")"));
      list.append(element("dt", "", what), cell);
    }
    if (rows.length) box.append(list);
    return box;
  }

  function open(map, data, at, title, rows, origin) {
    const popup = L.popup({ maxWidth: 300, autoPanPadding: [16, 16], offset: [0, -8] })
      .setLatLng(at).setContent(card(title, rows, data)).openOn(map);
    const node = popup.getElement();
    node.setAttribute("role", "dialog");
    node.setAttribute("aria-label", title);
    node.querySelector(".leaflet-popup-close-button").setAttribute("aria-label", data.words.close);
    node.querySelector(".leaflet-popup-content").tabIndex = 0; // it scrolls on a small screen
    node.querySelector("h3").focus({ preventScroll: true });
    popup.on("remove", () => { if (origin) origin.focus({ preventScroll: true }); });
    return popup;
  }

  // A piece of the way, with buttons to its neighbours: whoever has no mouse reaches every one from the steps.
  function openPiece(map, data, at, number, origin) {
    const piece = data.pieces[number];
    const popup = open(map, data, at, piece.t, piece.r, origin);
    const turn = element("p", "turn");
    for (const [to, text] of [[number - 1, data.words.before], [number + 1, data.words.after]]) {
      const other = data.pieces[to];
      if (!other) continue;
      const button = element("button", "", text);
      button.type = "button";
      button.addEventListener("click", () => {
        const middle = other.c[Math.floor(other.c.length / 2)];
        openPiece(map, data, middle, to, origin);
      });
      turn.append(button);
    }
    popup.getElement().querySelector("h3").after(turn) /* above the facts: seen without scrolling */;
  }

  const { HALF } = placing;

  // --- the way ------------------------------------------------------------------------------------------------------
  function drawWay(map, data) {
    const renderer = L.svg({ pane: "way", padding: 0.5 });
    const runs = data.runs.map((run) => ({ ...run, parts: [] }));
    const stroke = (run, className, more) => {
      const path = L.polyline(run.c, { renderer, pane: "way", className, interactive: false, smoothFactor: 0.5, ...more }).addTo(map);
      run.parts.push(path);
    };
    for (const run of runs) stroke(run, "way-casing", { weight: 13 });
    for (const run of runs) stroke(run, "way-line", { weight: 8 });
    for (const run of runs) {
      if (run.u) stroke(run, "way-core", { weight: 4, dashArray: "7 7", lineCap: "butt" });
      else if (run.s) stroke(run, "way-core", { weight: 3, dashArray: "0.1 8", lineCap: "round" });
    }
    const touch = L.svg({ pane: "touch", padding: 0.5 });
    data.pieces.forEach((piece, number) => {
      const path = L.polyline(piece.c, { renderer: touch, pane: "touch", className: "way-touch", weight: 26, smoothFactor: 0 }).addTo(map);
      path.on("click", (event) => { L.DomEvent.stop(event); openPiece(map, data, event.latlng, number, null); });
    });
    return runs;
  }

  function drawHazards(map, data) {
    const renderer = L.svg({ pane: "hazard", padding: 0.5 });
    const made = [];
    for (const hazard of data.hazards) {
      L.polygon(hazard.c, { renderer, pane: "hazard", className: "hazard-plate", weight: 7, interactive: false }).addTo(map);
      const area = L.polygon(hazard.c, { renderer, pane: "hazard", className: "hazard", weight: 3 }).addTo(map);
      area.on("click", (event) => { L.DomEvent.stop(event); open(map, data, event.latlng, hazard.t, [], null); });
      made.push(hazard.at.map((at) => words(map, at, hazard.t, "hazard-words", "label", null, 0)));
    }
    return made;
  }

  // --- words and marks ----------------------------------------------------------------------------------------------
  function words(map, at, text, className, pane, angle, aside) {
    const box = element("div", "words " + className);
    const span = element("span", "", text);
    span.dir = "auto";
    if (angle !== null) span.style.transform = "translate(-50%,-50%) rotate(" + angle + "deg) translateY(" + aside + "px)";
    box.append(span);
    const icon = L.divIcon({ html: box, className: "words-icon", iconSize: [0, 0] });
    return L.marker(at, { icon, pane, interactive: false, keyboard: false }).addTo(map);
  }

  function picture(fragment, className) {
    const box = element("div", className);
    box.innerHTML = fragment; // drawn by the program that wrote this page
    return box;
  }

  function drawMark(map, data, mark) {
    const box = picture(mark.svg, "mark-box");
    if (mark.b) { const span = element("span", "beside", mark.b); span.dir = "auto"; box.append(span); }
    const icon = L.divIcon({ html: box, className: "mark-icon mark-" + mark.k, iconSize: [2 * HALF, 2 * HALF] });
    const marker = L.marker(mark.p, { icon, keyboard: true, riseOnHover: true, zIndexOffset: mark.z }).addTo(map);
    const node = marker.getElement();
    node.setAttribute("aria-label", mark.t);
    marker.on("click", () => open(map, data, mark.p, mark.t, mark.r, node));
    node.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); event.stopPropagation(); marker.fire("click"); }
    });
    const line = (className, weight) => L.polyline([], { pane: "arrow", className, weight, interactive: false }).addTo(map);
    return { marker, mark, leader: line("leader", 2), dot: line("leader", 7) };
  }

  function drawArrows(map, data) {
    return data.arrows.map((arrow) => {
      const icon = L.divIcon({ html: picture(arrow.svg, "mark-box"), className: "mark-icon quiet", iconSize: [2 * HALF, 2 * HALF] });
      return { arrow, marker: L.marker(arrow.p, { icon, pane: "arrow", interactive: false, keyboard: false }).addTo(map) };
    });
  }

  // Give everything a place of its own, in the order of its weight; marks that step aside have a leader to their own place.
  function moveAside(map, one, at, dx, dy) {
    const node = one.marker.getElement();
    node.style.marginLeft = dx - HALF + "px";
    node.style.marginTop = dy - HALF + "px";
    one.leader.setLatLngs(dx || dy ? [one.mark.p, map.containerPointToLatLng([at.x + dx, at.y + dy])] : []);
    one.dot.setLatLngs(dx || dy ? [one.mark.p, one.mark.p] : []);
  }

  function sayBeside(one, x, y, away, crowd) {
    const words = one.marker.getElement().querySelector(".beside");
    if (!words) return;
    words.hidden = false;
    const { width, height } = words.getBoundingClientRect();
    const place = crowd.choose(x, y, width, height, placing.beside(width, height, away));
    words.hidden = !place;
    if (place) words.style.translate = HALF + place[0] + "px " + place[1] + "px";
  }

  function settleArrows(map, arrows, crowd) {
    for (const { arrow, marker } of arrows) {
      const { x, y } = map.latLngToContainerPoint(arrow.p);
      const node = marker.getElement();
      node.hidden = !crowd.claim(placing.around(x, y, 22, 22));
      node.querySelector("svg g + g")?.toggleAttribute("hidden", true);
    }
  }

  function settleFigures(map, arrows, crowd) {
    for (const { arrow, marker } of arrows) {
      if (!arrow.f || marker.getElement().hidden) continue;
      const { x, y } = map.latLngToContainerPoint(arrow.p);
      const [right, down, wide, high] = arrow.f;
      const isFree = crowd.claim(placing.around(x + right, y + down, wide, high));
      marker.getElement().querySelector("svg g + g").toggleAttribute("hidden", !isFree);
    }
  }

  function arrange(map, data, drawn) {
    const container = map.getContainer();
    const origin = container.getBoundingClientRect();
    const metresPerPixel = 40075016.7 * Math.cos(map.getCenter().lat * Math.PI / 180) / 256 / 2 ** map.getZoom();
    const stride = Math.max(1, Math.ceil(30 * metresPerPixel / data.spacing));
    const spot = (p) => { const { x, y } = map.latLngToContainerPoint(p); return [x, y]; };
    const crowd = placing.crowd(origin.width, origin.height, data.runs.flatMap((run) => run.c).map(spot));
    const box = (node) => {
      const { left, right, top, bottom } = node.getBoundingClientRect();
      return [left - origin.left, top - origin.top, right - origin.left, bottom - origin.top];
    };
    const settleWords = (node) => {
      node.hidden = false;
      const own = box(node.querySelector("span") || node);
      node.hidden = !(crowd.isWhole(own) && crowd.claim(own));
      return !node.hidden;
    };
    const chooseWords = (places) => {
      for (const place of places) place.getElement().hidden = true;
      return places.find((place) => settleWords(place.getElement()));
    };
    for (const node of document.querySelectorAll(".north, .credit, .leaflet-control-zoom, .leaflet-control-scale")) crowd.take(box(node));

    const rooms = (one, x, y) => one.mark.room.map(([right, down, wide, high]) => placing.around(x + right, y + down, wide, high));
    const all = drawn.marks.map((one) => ({ one, at: map.latLngToContainerPoint(one.mark.p), away: data.away[one.mark.k] }));
    const ends = all.filter(({ away }) => away);
    const [halts, others] = [true, false].map((halt) => all.filter(({ one, away }) => one.mark.moves && !away && (one.mark.k === "halt") === halt));
    const settle = (rows) => {
      for (const row of rows) row.stays = crowd.claim(rooms(row.one, row.at.x, row.at.y)[0]);
      for (const row of rows) {
        row.step = row.stays ? [0, 0] : crowd.stepAside(row.at.x, row.at.y);
        moveAside(map, row.one, row.at, ...row.step);
      }
    };
    const say = (rows) => { for (const { one, at, step } of rows) sayBeside(one, at.x + step[0], at.y + step[1], null, crowd); };
    for (const { one, at } of ends) rooms(one, at.x, at.y).forEach(crowd.take);
    for (const { one, at, away } of ends) sayBeside(one, at.x, at.y, away, crowd);
    settle(halts);
    say(halts);
    for (const { marker } of drawn.arrows) marker.getElement().hidden = true;
    settleArrows(map, drawn.arrows.filter(({ arrow }) => arrow.i === 0), crowd);
    settle(others);
    settleFigures(map, drawn.arrows, crowd);
    say(others);
    drawn.hazards.forEach(chooseWords); // the list beside the map says them all
    settleArrows(map, drawn.arrows.filter(({ arrow }) => arrow.i !== 0 && arrow.i % stride === 0), crowd);
    for (const { one, at } of all.filter((row) => !row.one.mark.moves)) {
      const { mark, marker } = one;
      const isLikeWay = mark.off !== null && mark.off / metresPerPixel < data.barPx;
      const own = rooms(one, at.x, at.y);
      const isShown = !isLikeWay && own.every(crowd.isFree);
      marker.getElement().hidden = !isShown;
      if (isShown) own.forEach(crowd.take);
    }
    drawn.names.forEach(chooseWords);
  }

  // --- levels -------------------------------------------------------------------------------------------------------
  function drawLevels(map, data, runs) {
    const renderer = L.svg({ pane: "room", padding: 0.5 });
    const rooms = data.rooms.map((room) => ({
      ...room, layer: L.polygon(room.c, { renderer, pane: "room", className: "room", weight: 1.5, interactive: false }),
      name: null,
    }));
    const plans = data.plans.map((plan) => ({ ...plan, made: null }));
    const open = (plan) => {
      const path = (made, className) => { made.options.className = className; return made.addTo(map); };
      const how = { renderer, pane: "room", weight: 1.5, interactive: false };
      plan.made = [path(L.polygon(plan.outline, how), "room outline"), ...plan.rooms.map((room) => path(L.polygon(room.c, how), "room"))];
      plan.made.push(...plan.stairs.map((line) => path(L.polyline(line, { ...how, weight: 8, dashArray: "2 4" }), "stairs")));
      plan.made.push(...plan.doors.map((door) => path(L.circleMarker(door.p, { ...how, pane: "arrow", renderer: L.svg({ pane: "arrow" }), radius: 5 }), "door")));
      plan.made.push(...plan.rooms.filter((room) => room.t).map((room) => words(map, room.p, room.t, "room-words", "label", null, 0)));
      plan.made.push(...plan.doors.filter((door) => door.on).map((door) => words(map, door.p, door.t, "door-words", "label", null, 0)));
      map.fitBounds(plan.outline.length ? plan.outline : plan.rooms.flatMap((room) => room.c), { padding: [40, 40], maxZoom: 20.5, animate: false });
    };
    const choose = (value) => {
      const chosen = value.startsWith("plan:") ? plans[Number(value.slice(5))] : null;
      const level = chosen ? String(chosen.level) : value;
      for (const plan of plans) if (plan.made) { plan.made.forEach((layer) => layer.remove()); plan.made = null; }
      if (chosen) open(chosen);
      for (const room of rooms) {
        const shown = !chosen && level !== "" && String(room.level) === level;
        if (shown) room.layer.addTo(map); else room.layer.remove();
        if (room.name) { room.name.remove(); room.name = null; }
        if (shown && room.t) room.name = words(map, room.p, room.t, "room-words", "label", null, 0);
      }
      for (const run of runs) {
        const faded = level !== "" && run.l !== null && String(run.l) !== level;
        for (const part of run.parts) part.getElement()?.classList.toggle("faded", faded);
      }
    };
    document.querySelectorAll("input[name=level]").forEach((input) => {
      input.addEventListener("change", () => choose(input.value));
      if (input.checked) choose(input.value);
    });
  }

  // --- the page -----------------------------------------------------------------------------------------------------
  function draw(map, data, layers) {
    const container = map.getContainer();
    container.setAttribute("role", "application");
    container.setAttribute("aria-label", data.words.map);
    for (const [name, z] of [["room", 405], ["hazard", 410], ["way", 420], ["touch", 425], ["arrow", 430], ["label", 440]]) {
      map.createPane(name).style.zIndex = z; // .leaflet-<name>-pane
    }
    for (const name of ["arrow", "label", "room"]) map.getPane(name).style.pointerEvents = "none";
    L.control.zoom({ zoomInTitle: data.words.zoomIn, zoomOutTitle: data.words.zoomOut }).addTo(map);
    if (layers.roads) {
      layers.casings = L.geoJson(layers.roads.toGeoJSON(), { interactive: false, renderer: layers.roads.options.renderer }).addTo(map);
      for (const name of ["casings", "roads", "paths", "buildings"]) layers[name]?.bringToFront();
    }
    const fit = () => map.fitBounds(data.bounds, { paddingTopLeft: [52, 44], paddingBottomRight: [44, 96], animate: false });
    fit();
    const runs = drawWay(map, data);
    const drawn = { hazards: drawHazards(map, data), arrows: drawArrows(map, data) };
    drawn.marks = data.marks.map((mark) => drawMark(map, data, mark)).sort((a, b) => b.mark.z - a.mark.z);
    drawn.names = data.labels.map((label) => label.at.flatMap(([lat, lon, angle]) =>
      [-17, 17].map((aside) => words(map, [lat, lon], label.t, "street-words", "label", angle, aside))));
    drawLevels(map, data, runs);
    const paint = () => paintGround(map, data, layers);
    paint();
    arrange(map, data, drawn);
    map.on("zoomend", paint);
    map.on("moveend resize", () => arrange(map, data, drawn)); // after zooming too
    dark.addEventListener("change", paint);
    container.addEventListener("keydown", (event) => { if (event.key === "Escape") map.closePopup(); });
    document.querySelectorAll("button[data-lat]").forEach((button) => {
      button.hidden = false;
      button.addEventListener("click", () => {
        const at = [Number(button.dataset.lat), Number(button.dataset.lon)];
        map.setView(at, Math.max(map.getZoom(), 18), { animate: false });
        openPiece(map, data, at, Number(button.dataset.piece), button);
      });
    });
    document.querySelectorAll("button.whole").forEach((button) => { button.hidden = false; button.addEventListener("click", fit); });
    if (window.innerWidth >= 900) document.querySelectorAll("details.legend").forEach((legend) => { legend.open = true; });
    window.rollrouteReady = drawn.marks.length;
  }
  return { draw };
})();
