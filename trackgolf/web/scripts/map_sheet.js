// Draws a round on its course: the ground, the walk, the shots, and the handles by which they are moved.
//   const sheet = trackgolf.sheet(element, told);
// told: what to call when something is done there: choose(name), move(name, place), moving(name), tap(place),
// hole(number). A place is [longitude, latitude], as everywhere but inside the map library.
(() => {
  "use strict";
  // A thumb needs 44 CSS pixels.
  const HANDLE_PX = 48;
  const NUDGE_WAIT_MS = 900;
  const METRE_DEG = 1 / 111320;
  const STEPS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowRight: [1, 0], ArrowLeft: [-1, 0] };

  const latLng = ([lon, lat]) => L.latLng(lat, lon);
  const place = (point) => [point.lng, point.lat];
  const near = (one, other) => one && other && Math.abs(one[0] - other[0]) < 2e-6 && Math.abs(one[1] - other[1]) < 2e-6;

  const handle = (className, text) => {
    const disc = document.createElement("span");
    disc.textContent = text;
    return L.divIcon({ className, html: disc, iconSize: [HANDLE_PX, HANDLE_PX] });
  };

  const sheet = (element, told) => {
    const map = L.map(element, {
      zoomSnap: 0.25, maxZoom: 22, zoomAnimation: false, fadeAnimation: false, markerZoomAnimation: false,
      attributionControl: false,
    });
    map.setView([0, 0], 15);
    const layers = Object.fromEntries(["ground", "walk", "stops", "lines", "shots", "cross"].map((name) => [name, L.layerGroup().addTo(map)]));
    const grounds = [];
    const bounds = new Map();
    let handles = new Map();
    let cross = null;

    map.on("click", (event) => told.tap(place(event.latlng)));

    const ground = (data) => {
      for (const shape of data.shapes) {
        const drawn = L.geoJSON(shape.geometry, {
          interactive: false, smoothFactor: 0.5,
          style: { className: `g-${shape.kind}` },
          pointToLayer: (_, point) => L.circleMarker(point, { radius: 3, className: "m-pin", interactive: false }),
        });
        grounds.push([shape.hole, drawn]);
        drawn.addTo(layers.ground);
        if (shape.hole !== null && ["green", "tee"].includes(shape.kind)) extend(shape.hole, drawn.getBounds());
      }
      for (const line of data.lines) {
        const drawn = L.polyline(line.points.map(latLng), { className: "m-lines", interactive: false });
        grounds.push([line.hole, drawn]);
        drawn.addTo(layers.ground);
        extend(line.hole, drawn.getBounds());
        const number = document.createElement("span");
        number.textContent = String(line.hole);
        const badge = L.marker(latLng(line.points[0]), {
          icon: L.divIcon({ className: "hole-number", html: number, iconSize: [26, 26] }), keyboard: false,
        });
        badge.on("click", () => told.hole(line.hole));
        badges.push(badge);
      }
      walk = data.walk;
    };
    let walk = [];

    // The walk between two times stands out from the rest.
    const drawWalk = ([from, to]) => {
      layers.walk.clearLayers();
      for (const stretch of walk) {
        let points = [];
        let inside = null;
        const end = () => {
          if (points.length > 1) L.polyline(points, { className: inside ? "m-track" : "m-track aside", interactive: false }).addTo(layers.walk);
        };
        for (const point of stretch) {
          const now = point[2] > from && point[2] < to;
          if (inside !== null && now !== inside) {
            points.push(latLng(point));
            end();
            points = [];
          }
          inside = now;
          points.push(latLng(point));
        }
        end();
      }
    };
    const badges = [];

    const extend = (hole, more) => {
      if (!more.isValid()) return;
      bounds.set(hole, (bounds.get(hole) ?? L.latLngBounds([])).extend(more));
    };

    // Shows a hole, and what was walked on it; 0 is the whole round.
    const fit = (hole, shots, times) => {
      drawWalk(times);
      map.invalidateSize({ animate: false });
      for (const [owner, drawn] of grounds) {
        const aside = Boolean(hole) && owner !== null && owner !== hole;
        const parts = drawn.eachLayer ? drawn.getLayers() : [drawn];
        for (const part of parts) part.getElement?.()?.classList.toggle("aside", aside);
      }
      for (const badge of badges) hole ? badge.remove() : badge.addTo(map);
      element.classList.toggle("overview", !hole);
      const all = L.latLngBounds([]);
      for (const [owner, box] of bounds) if (!hole || owner === hole) all.extend(box);
      for (const shot of shots) for (const end of [shot.start, shot.end]) if (end) all.extend(latLng(end));
      if (all.isValid()) map.fitBounds(all, { animate: false, padding: [26, 26] });
    };

    const draw = (shots, chosen, withHandles) => {
      const focused = [...handles].find(([, one]) => one.marker.getElement() === document.activeElement)?.[0];
      layers.lines.clearLayers();
      layers.shots.clearLayers();
      handles = new Map();
      let before = null;
      for (const shot of shots) {
        if (!shot.start) continue;
        const doubt = shot.confidence < 0.6 || shot.length === null ? " doubtful" : "";
        const line = L.polyline(shot.end ? [latLng(shot.start), latLng(shot.end)] : [latLng(shot.start)], {
          className: `m-played${doubt}`, interactive: false,
        }).addTo(layers.lines);
        if (shot.end) L.circleMarker(latLng(shot.end), { radius: 3.5, className: `m-finish${doubt}`, interactive: false }).addTo(layers.lines);
        const one = { shot, line, before: before && near(before.shot.end, shot.start) ? before.line : null };
        before = one;
        if (!withHandles) continue;
        one.marker = L.marker(latLng(shot.start), {
          icon: handle(`shot-handle${doubt}`, String(shot.shot)), draggable: true, autoPan: true, riseOnHover: true,
        }).addTo(layers.shots);
        one.marker.dragging.disable();
        one.marker.getElement().setAttribute("aria-label", shot.words);
        one.marker.getElement().setAttribute("aria-describedby", "keys-move");
        handles.set(shot.name, one);
        listen(one);
      }
      choose(chosen);
      if (focused !== undefined && chosen) handles.get(chosen)?.marker.getElement().focus({ preventScroll: true });
    };

    const follow = (one) => {
      const at = one.marker.getLatLng();
      const points = one.line.getLatLngs();
      one.line.setLatLngs([at, ...points.slice(1)]);
      if (one.before) one.before.setLatLngs([one.before.getLatLngs()[0], at]);
    };

    const listen = (one) => {
      const { marker, shot } = one;
      const icon = marker.getElement();
      movable(marker, (at) => told.move(shot.name, at), () => { follow(one); told.moving(shot.name); });
      marker.on("click", () => { told.choose(shot.name); icon.focus({ preventScroll: true }); });
      marker.on("dragstart", () => told.choose(shot.name));
      icon.addEventListener("focus", () => told.choose(shot.name));
      // A thumb that moves the map must not take a shot along: it chooses one first. A mouse shows what it will take.
      icon.addEventListener("pointerover", (event) => { if (event.pointerType === "mouse") marker.dragging.enable(); });
      icon.addEventListener("pointerleave", () => { if (!icon.classList.contains("chosen")) marker.dragging.disable(); });
    };

    // By drag, and by arrow keys: these wait for the last of several.
    const movable = (marker, moved, moving) => {
      const icon = marker.getElement();
      let from = null;
      let timer = 0;
      const settle = () => {
        clearTimeout(timer);
        if (from) { from = null; moved(place(marker.getLatLng())); }
      };
      marker.on("drag", moving);
      marker.on("dragend", () => moved(place(marker.getLatLng())));
      icon.addEventListener("blur", settle);
      icon.addEventListener("keydown", (event) => {
        const step = STEPS[event.key];
        if (step && !event.ctrlKey && !event.altKey && !event.metaKey) {
          const far = (event.shiftKey ? 10 : 1) * METRE_DEG;
          const at = marker.getLatLng();
          from ??= at;
          marker.setLatLng([at.lat + step[1] * far, at.lng + (step[0] * far) / Math.cos((at.lat * Math.PI) / 180)]);
          moving();
          clearTimeout(timer);
          timer = setTimeout(settle, NUDGE_WAIT_MS);
        } else if (event.key === "Enter" && from) settle();
        else if (event.key === "Escape" && from) {
          clearTimeout(timer);
          marker.setLatLng(from);
          from = null;
          moving();
        } else return;
        event.preventDefault();
        event.stopPropagation();
      });
    };

    const choose = (name) => {
      for (const [mine, one] of handles) {
        const chosen = mine === name;
        one.marker.getElement().classList.toggle("chosen", chosen);
        one.marker.setZIndexOffset(chosen ? 1000 : 0);
        chosen ? one.marker.dragging.enable() : one.marker.dragging.disable();
      }
    };

    const focus = (name) => handles.get(name)?.marker.getElement().focus({ preventScroll: true });

    const showStops = (stops) => {
      layers.stops.clearLayers();
      for (const stop of stops) L.circleMarker(latLng(stop.place), { radius: 5, className: "m-stop", interactive: false }).addTo(layers.stops);
    };

    const setCross = (at, moved) => {
      layers.cross.clearLayers();
      cross = null;
      if (!at) return;
      cross = L.marker(latLng(at), { icon: handle("shot-cross", "+"), draggable: true, zIndexOffset: 2000 }).addTo(layers.cross);
      cross.getElement().setAttribute("aria-label", "Place of the new shot");
      movable(cross, moved, () => {});
      if (!map.getBounds().contains(cross.getLatLng())) map.panTo(cross.getLatLng(), { animate: false });
    };

    const metresBetween = (one, other) => map.distance(latLng(one), latLng(other));
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(element);
    return { ground, fit, draw, choose, focus, showStops, setCross, metresBetween };
  };

  window.trackgolf = Object.freeze({ ...window.trackgolf, sheet });
})();
