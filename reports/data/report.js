(() => {
  "use strict";
  const root = document.documentElement;
  root.classList.add("scripted");

  // Lengths stand on the page in both units; a class shows one of them.
  const unitButtons = [...document.querySelectorAll("[data-units]")];
  const setUnits = (units) => {
    root.classList.remove("in-yd", "in-me");
    root.classList.add(`in-${units}`);
    for (const button of unitButtons) {
      button.setAttribute("aria-pressed", String(button.dataset.units === units));
    }
  };
  for (const button of unitButtons) {
    button.closest("[hidden]")?.removeAttribute("hidden");
    button.addEventListener("click", () => setUnits(button.dataset.units));
  }
  setUnits(root.classList.contains("in-me") ? "me" : "yd");

  // A table that is wider than its box says so.
  const slide = document.getElementById("slide");
  for (const box of document.querySelectorAll(".scroll")) {
    const hint = slide.cloneNode(true);
    hint.removeAttribute("id");
    box.before(hint);
    new ResizeObserver(() => {
      hint.hidden = box.scrollWidth <= box.clientWidth + 1;
    }).observe(box);
  }

  const source = document.getElementById("map-data");
  if (!source) return;
  const data = JSON.parse(source.textContent);
  const map = window[data.map];
  const frame = document.getElementById(data.map);
  document.querySelector(".map-whole").hidden = false;

  // Names reach the page here and only as text.
  const inBothUnits = ([yards, metres]) => {
    const whole = document.createElement("span");
    for (const [unit, text] of [["yd", yards], ["me", metres]]) {
      const part = document.createElement("span");
      part.className = unit;
      part.textContent = text;
      whole.append(part);
    }
    return whole;
  };

  const tag = (item) => {
    const whole = document.createElement("span");
    const long = inBothUnits(item.tag);
    long.className = "tag-long";
    const short = document.createElement("span");
    short.className = "tag-short";
    short.textContent = item.short;
    whole.append(long, short);
    return whole;
  };

  const layers = {};
  for (const [name, variable] of Object.entries(data.layers)) {
    layers[name] = new Map();
    window[variable].eachLayer((layer) => layers[name].set(layer.feature.id, layer));
  }
  const holes = new Map(data.holes.map((hole) => [hole.number, hole]));
  const itemHoles = new Map();
  for (const hole of data.holes) {
    for (const item of hole.items) itemHoles.set(layers[item.layer].get(item.id), hole.number);
  }

  map.setMaxZoom(21);
  map.invalidateSize({ animate: false });

  const doubt = document.getElementById("map-doubtful");
  const select = document.getElementById("map-hole");
  const heading = document.getElementById("map-list-h");
  const hint = document.getElementById("map-none");
  const list = document.getElementById("map-items");
  const allHoles = heading.textContent;
  let tagged = [];
  let found = null;

  const mark = (layer) => {
    found?.getElement()?.classList.remove("found");
    found = layer;
    layer?.getElement()?.classList.add("found");
    layer?.bringToFront?.();
  };

  const showHole = (number) => {
    const hole = holes.get(number);
    for (const layer of tagged) layer.unbindTooltip();
    tagged = [];
    mark(null);
    for (const [name, group] of Object.entries(layers)) {
      const stays = name === "ground" || name === "lines" || name === "pins";
      for (const layer of group.values()) {
        const own = !hole || layer.feature.properties.hole === number;
        const common = layer.feature.properties.hole === 0 && stays;
        layer.getElement()?.classList.toggle("off", !own && !stays);
        layer.getElement()?.classList.toggle("aside", !own && !common && stays);
      }
    }
    for (const badge of numbers.values()) badge.getElement()?.classList.toggle("off", Boolean(hole));
    frame.classList.toggle("overview", !hole);
    for (const layer of layers.finishes.values()) layer.setRadius(hole ? 6 : 3.5);
    // A hole that runs across the map has its labels above and below, else left and right.
    const bounds = hole ? hole.bounds : data.bounds;
    const corners = bounds.map((corner) => map.project(corner));
    const lies = Math.abs(corners[1].x - corners[0].x) > Math.abs(corners[1].y - corners[0].y);
    // They need room beside the first and the last target too.
    const narrow = frame.clientWidth < 560;
    const room = !hole ? [8, 8] : narrow ? (lies ? [24, 26] : [48, 8]) : lies ? [40, 20] : [165, 8];
    map.fitBounds(bounds, { animate: false, padding: room });
    list.replaceChildren();
    heading.textContent = hole
      ? [...select.options].find((option) => option.value === String(number)).textContent
      : allHoles;
    hint.hidden = Boolean(hole);
    frame.classList.toggle("narrow", narrow);
    for (const item of hole?.items ?? []) {
      const layer = layers[item.layer].get(item.id);
      const side = item.kind === "planned" ? 0 : 1;
      layer.bindTooltip(tag(item), {
        permanent: true,
        interactive: false,
        direction: (lies ? ["top", "bottom"] : ["left", "right"])[side],
        offset: lies ? [0, [-9, 9][side]] : [[-9, 9][side], 0],
        className: `tag-${item.kind}`,
      });
      tagged.push(layer);
      const entry = document.createElement("li");
      entry.className = item.kind;
      const button = document.createElement("button");
      button.type = "button";
      button.append(inBothUnits(item.item));
      if (item.doubtful) {
        entry.classList.add("doubtful");
        button.append(doubt.content.cloneNode(true));
      }
      button.addEventListener("click", () => {
        mark(layer);
        map.panTo(layer.getLatLng(), { animate: false });
      });
      entry.append(button);
      list.append(entry);
    }
    select.value = hole ? String(number) : "";
  };

  const numbers = new Map();
  for (const hole of data.holes) {
    if (!hole.at) continue;
    const label = document.createElement("span");
    label.textContent = String(hole.number);
    const badge = L.marker(hole.at, {
      icon: L.divIcon({ className: "hole-number", html: label, iconSize: [22, 22] }),
      keyboard: false,
    });
    badge.on("click", () => showHole(hole.number)).addTo(map);
    numbers.set(hole.number, badge);
  }
  for (const [layer, number] of itemHoles) layer.on("click", () => showHole(number));

  select.addEventListener("change", () => showHole(Number(select.value)));
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      const stops = ["", ...[...holes.keys()].map(String)];
      const next = (stops.indexOf(select.value) + Number(button.dataset.step) + stops.length) % stops.length;
      showHole(Number(stops[next]));
    });
  }
  for (const button of document.querySelectorAll("[data-hole]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      showHole(Number(button.dataset.hole));
      frame.scrollIntoView({ block: "center" });
      select.focus({ preventScroll: true });
    });
  }
  showHole(0);
})();
