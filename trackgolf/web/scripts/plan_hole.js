// The targets of a planned hole on its map: one that is moved is sent at once, and the answer is the plan around it.
(() => {
  "use strict";
  const byId = (id) => document.getElementById(id);
  const root = byId("plan");
  const { send } = window.trackgolf;
  const base = root.dataset.hole;
  const METRE_DEG = 1 / 111320;
  const UNIT_M = root.dataset.units === "yd" ? 0.9144 : 1;
  const STEPS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowRight: [1, 0], ArrowLeft: [-1, 0] };
  // A thumb needs 44 CSS pixels.
  const HANDLE_PX = 48;
  // So long after the last change it is said aloud, and keys are waited for.
  const QUIET_MS = 500;

  const latLng = ([lon, lat]) => L.latLng(lat, lon);
  const kept = JSON.parse(root.dataset.mine);
  let state = null; // what was answered last
  let wanted = kept; // the shots that are the player's own
  let map = null;
  let layers = null;
  const handles = new Map(); // by shot
  let held = 0; // the shot under a finger or a key
  let asked = null; // what to ask next
  let busy = false;
  let quiet = 0;

  const text = (id, words) => { byId(id).textContent = words; };
  const cell = (name, words, className) => {
    const made = document.createElement(name);
    made.textContent = words;
    if (className) made.className = className;
    if (name === "th") made.scope = "row";
    return made;
  };
  const rows = (id, lines) => byId(id).replaceChildren(...lines.map((cells) => {
    const row = document.createElement("tr");
    row.append(...cells);
    return row;
  }));

  const show = () => {
    byId("plan-odds").replaceChildren(...state.odds.map(([name, value]) => {
      const box = document.createElement("div");
      const number = cell("dd", "");
      number.append(cell("b", value));
      box.append(cell("dt", name), number);
      return box;
    }));
    text("plan-short", state.short);
    text("plan-shot", state.shot);
    text("plan-ends", state.ends);
    text("plan-near", state.near);
    byId("plan-notes").replaceChildren(...state.notes.map((note) => cell("p", note)));
    rows("plan-shots", state.shots.map((shot) => [cell("th", shot.shot), cell("td", shot.club), cell("td", shot.length, "n"), cell("td", shot.leave, "n")]));
    rows("plan-spots", state.spots.map(([spot, next, toGo]) => [cell("th", spot), cell("td", next), cell("td", toGo, "n")]));
    const changed = JSON.stringify(wanted) !== JSON.stringify(kept) || root.dataset.tried === "yes";
    text("plan-state", changed ? "as moved, not kept" : "as kept");
    byId("plan-keep-now").hidden = !changed;
    byId("plan-back").hidden = !changed;
    byId("plan-keep").elements.wanted.value = JSON.stringify(wanted);
    // The fields by numbers go on from what is seen.
    for (const [at, form] of [...document.querySelectorAll(".plan-form")].entries()) {
      const shot = state.shots[at];
      form.hidden = !shot;
      if (!shot) continue;
      form.querySelector("[name=wanted]").value = JSON.stringify(asWanted(at + 1));
      form.querySelector("[name=club]").value = shot.club;
      form.querySelector("[name=distance]").value = shot.distance;
      form.querySelector("[name=side]").value = "0";
    }
    draw();
  };

  const asWanted = (count) => state.shots.slice(0, count).map((shot) => ({ club: shot.club, lon: shot.target[0], lat: shot.target[1] }));

  // Asks for the newest only: while an answer is awaited, later moves take the place of earlier ones.
  const ask = async (shots, shot) => {
    asked = { shots, shot };
    if (busy) return;
    busy = true;
    root.classList.add("busy");
    while (asked) {
      const now = asked;
      asked = null;
      const answer = await send(`${base}/try`, { wanted: now.shots.length ? JSON.stringify(now.shots) : "" });
      if (asked) continue;
      const fault = byId("plan-fault");
      fault.hidden = !answer.faults.length;
      fault.replaceChildren(...answer.faults.map((line) => cell("p", line)));
      if (answer.faults.length) continue;
      state = answer.data;
      wanted = now.shots;
      show();
      clearTimeout(quiet);
      if (now.shot) quiet = setTimeout(() => text("plan-said", state.said), QUIET_MS);
    }
    busy = false;
    root.classList.remove("busy");
  };

  const moved = (shot, place) => {
    const before = asWanted(shot - 1);
    const at = map.wrapLatLng(place);
    ask([...before, { club: state.shots[shot - 1].club, lon: at.lng, lat: at.lat }], shot);
  };

  // The lines follow the handle before the answer comes.
  const follow = (shot, place) => {
    const line = handles.get(shot);
    const next = handles.get(shot + 1);
    line.line.setLatLngs([line.line.getLatLngs()[0], place]);
    line.ring.setLatLng(place);
    if (next) next.line.setLatLngs([place, next.line.getLatLngs()[1]]);
  };

  const draw = () => {
    for (const shot of state.shots) {
      if (!shot.target) continue;
      const one = handles.get(shot.shot) ?? make(shot.shot, shot);
      const target = latLng(shot.target);
      one.line.setLatLngs([latLng(shot.start), target]);
      one.ring.setLatLng(target).setRadius(shot.radius_m);
      if (held !== shot.shot) one.marker.setLatLng(target);
      const icon = one.marker.getElement();
      icon.setAttribute("aria-label", `Target of shot ${shot.shot}, ${shot.club} ${shot.length}, leaves ${shot.leave}`);
      icon.classList.toggle("mine", shot.shot <= state.wanted);
    }
    for (const [number, one] of handles) {
      if (number <= state.shots.length) continue;
      for (const part of [one.line, one.ring, one.marker]) part.remove();
      handles.delete(number);
    }
  };

  const make = (number, shot) => {
    const label = document.createElement("span");
    label.textContent = String(number);
    const target = latLng(shot.target);
    const one = {
      ring: L.circle(target, { radius: shot.radius_m, className: "m-rings", interactive: false }).addTo(layers.lines),
      line: L.polyline([latLng(shot.start), target], { className: "m-planned", interactive: false }).addTo(layers.lines),
      marker: L.marker(target, {
        icon: L.divIcon({ className: "plan-handle", html: label, iconSize: [HANDLE_PX, HANDLE_PX] }), draggable: true, autoPan: true, riseOnHover: true,
      }).addTo(layers.marks),
    };
    handles.set(number, one);
    listen(number, one.marker);
    return one;
  };

  const listen = (number, marker) => {
    const icon = marker.getElement();
    let from = null;
    let timer = 0;
    const settle = () => { clearTimeout(timer); from = null; if (held === number) held = 0; };
    marker.on("dragstart", () => { held = number; from = wanted; });
    marker.on("drag", () => { follow(number, marker.getLatLng()); moved(number, marker.getLatLng()); });
    marker.on("dragend", () => { moved(number, marker.getLatLng()); settle(); icon.focus({ preventScroll: true }); });
    icon.addEventListener("blur", settle);
    icon.addEventListener("keydown", (event) => {
      const step = STEPS[event.key];
      if (step && !event.ctrlKey && !event.altKey && !event.metaKey) {
        const far = (event.shiftKey ? 10 : 1) * UNIT_M * METRE_DEG;
        const at = marker.getLatLng();
        held = number;
        from ??= wanted;
        marker.setLatLng([at.lat + step[1] * far, at.lng + (step[0] * far) / Math.cos((at.lat * Math.PI) / 180)]);
        follow(number, marker.getLatLng());
        moved(number, marker.getLatLng());
        clearTimeout(timer);
        timer = setTimeout(settle, 4 * QUIET_MS);
      } else if (event.key === "Escape" && (from || wanted !== kept)) {
        const back = from ?? kept;
        settle();
        held = 0;
        ask(back, number);
      } else return;
      event.preventDefault();
      event.stopPropagation();
    });
  };

  // The lower corner that is farther from all targets.
  const emptier = () => {
    const size = map.getSize();
    const points = state.shots.filter((shot) => shot.target).flatMap((shot) => [shot.start, shot.target]).map((place) => map.latLngToContainerPoint(latLng(place)));
    const away = (x) => Math.min(...points.map((point) => point.distanceTo([x, size.y])));
    return away(0) > away(size.x) ? "bottomleft" : "bottomright";
  };

  // A target that was moved and not kept is not left unasked.
  let leaving = false;
  byId("plan-keep").addEventListener("submit", () => { leaving = true; });
  byId("plan-back").addEventListener("click", () => { leaving = true; });
  for (const form of document.querySelectorAll(".plan-form form")) form.addEventListener("submit", () => { leaving = true; });
  window.addEventListener("beforeunload", (event) => {
    if (!leaving && !byId("plan-keep-now").hidden) event.preventDefault();
  });

  const begin = async () => {
    const ground = await send(`${base}/ground`);
    if (ground.faults.length || !ground.data) return;
    const element = byId("plan-map");
    byId("plan-frame").hidden = false;
    byId("plan-help").hidden = false;
    map = L.map(element, {
      zoomSnap: 0.25, maxZoom: 22, zoomAnimation: false, fadeAnimation: false, markerZoomAnimation: false, attributionControl: false, keyboard: false, scrollWheelZoom: false, zoomControl: false,
    });
    map.setView(latLng(ground.data.pin), 16);
    layers = Object.fromEntries(["ground", "lines", "marks"].map((name) => [name, L.layerGroup().addTo(map)]));
    for (const shape of ground.data.shapes) {
      L.geoJSON(shape.geometry, { interactive: false, smoothFactor: 0.5, style: { className: `g-${shape.kind}` } }).addTo(layers.ground);
    }
    const line = L.polyline(ground.data.line.map(latLng), { className: "m-lines", interactive: false }).addTo(layers.ground);
    L.circleMarker(latLng(ground.data.pin), { radius: 3, className: "m-hole", interactive: false }).addTo(layers.ground);
    state = JSON.parse(root.dataset.state);
    const all = line.getBounds().extend(latLng(ground.data.pin));
    for (const shot of state.shots) if (shot.target) all.extend(latLng(shot.target));
    // What stands on the map at its top and in its corner covers no target.
    map.fitBounds(all, { animate: false, paddingTopLeft: [30, 62], paddingBottomRight: [62, 34] });
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(element);
    show();
    L.control.zoom({ position: emptier() }).addTo(map);
    element.dataset.ready = "yes";
  };
  begin();
})();
