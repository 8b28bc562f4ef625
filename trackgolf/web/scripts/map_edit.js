// The round on the map, and what sets it right: each change is sent at once, and the answer is the round as it is then.
(() => {
  "use strict";
  const byId = (id) => document.getElementById(id);
  const edit = byId("edit");
  const { send, sheet: newSheet } = window.trackgolf;
  const base = edit.dataset.map;
  // How long a choice by keys, or a number that is counted up, may still change.
  const WAIT_MS = 800;
  // The same shot after others were found anew: its stroke this near in time.
  const SAME_S = 15;
  // A tap means a moment when the player was this near.
  const TAP_M = 25;
  const GUESSED = { inferred: " (guessed)", plan: " (as planned)" };
  const plain = (text) => String(text).replaceAll("_", " ");

  let ground = null;
  let state = null;
  let at = ""; // "v3" a playing, "h12" a hole not played, "" the whole round
  let chosen = null; // name of a shot
  let mode = null; // "add", "place"
  let adding = null; // what the new shot is known to be
  const queue = [];
  let busy = false;
  let stuck = []; // what could not be done
  let stuckWhy = 0;

  const sheet = (() => {
    edit.hidden = false;
    return newSheet(byId("map"), {
      choose: (name) => choose(name),
      move: (name, place) => change(name, { lon: place[0], lat: place[1] }, "moved"),
      moving: () => say("Enter keeps the place, Esc takes it back."),
      tap: (place) => tapped(place),
      hole: (hole) => show(valueOfHole(hole)),
    });
  })();

  // What is shown
  const playing = () => (at.startsWith("v") ? state.playings.find((one) => `v${one.visit}` === at) : undefined);
  const hole = () => playing()?.hole ?? (at.startsWith("h") ? Number(at.slice(1)) : 0);
  const valueOfHole = (number) => {
    const found = state.playings.find((one) => one.hole === number);
    return found ? `v${found.visit}` : `h${number}`;
  };
  const shotsHere = () => (playing() ? state.shots.filter((shot) => shot.visit === playing().visit) : at ? [] : state.shots);
  const shotNamed = (name) => state.shots.find((shot) => shot.name === name);
  const wrapped = (lon) => ((((lon + 180) % 360) + 360) % 360) - 180;

  const wordsOf = (shot) => {
    const parts = [`${shot.shot}. ${shot.club || "club unknown"}${GUESSED[shot.club_source] ?? ""}`, shot.clock];
    if (shot.length) parts.push(shot.length);
    parts.push(`from ${plain(shot.lie)} to ${plain(shot.end_lie)}`);
    parts.push(shot.corrected ? "set right" : `${Math.round(100 * shot.confidence)} % sure`);
    return parts.join(", ");
  };

  const say = (text) => { byId("status").textContent = text; };
  const put = (id, text) => {
    byId(id).textContent = text ?? "";
    byId(id).hidden = !text;
  };
  const option = (value, text) => {
    const made = document.createElement("option");
    made.value = value;
    made.textContent = text;
    return made;
  };

  const render = (fitted) => {
    const shots = shotsHere();
    for (const shot of state.shots) shot.words = wordsOf(shot);
    if (!shots.some((shot) => shot.name === chosen)) chosen = null;
    if (!chosen && at && shots.length && mode !== "add") chosen = shots[0].name;
    renderChooser();
    renderList(shots);
    renderForm();
    renderScore();
    renderEntries();
    if (fitted) sheet.fit(hole(), shots, span());
    sheet.draw(shots, chosen, Boolean(at));
  };

  const renderChooser = () => {
    const select = byId("playing");
    const played = new Set(state.playings.map((one) => one.hole));
    const left = [...byId("add-hole").options].map((one) => Number(one.value)).filter((number) => !played.has(number));
    const again = {};
    const options = [option("", "Whole round")];
    for (const one of state.playings) {
      again[one.hole] = (again[one.hole] ?? 0) + 1;
      options.push(option(`v${one.visit}`, `Hole ${one.hole}${one.again ? `, playing ${again[one.hole]}` : ""}`));
    }
    for (const number of left) options.push(option(`h${number}`, `Hole ${number}, not played`));
    select.replaceChildren(...options);
    const known = () => options.some((one) => one.value === at);
    if (!known()) at = valueOfHole(hole());
    if (!known()) at = "";
    select.value = at;
    document.title = `${hole() ? `Hole ${hole()}, round` : "Map of round"} ${edit.dataset.round}`;
    const last = state.entries.at(-1);
    byId("undo").disabled = !last;
    byId("undo").textContent = last ? `Undo: ${last.words}` : "Undo";
    byId("add").hidden = !at || mode === "add";
    byId("shots-h").textContent = at ? `Hole ${hole()}` : "Shots";
  };

  const renderList = (shots) => {
    const list = byId("shots");
    const focused = list.contains(document.activeElement);
    for (const row of list.querySelectorAll("label")) row.remove();
    for (const shot of at ? shots : []) {
      const row = document.createElement("label");
      row.className = shot.confidence < 0.6 ? "doubtful" : "";
      const radio = document.createElement("input");
      radio.type = "radio";
      radio.name = "chosen";
      radio.checked = shot.name === chosen;
      radio.addEventListener("change", () => choose(shot.name));
      const words = document.createElement("span");
      words.textContent = shot.words;
      row.append(radio, words);
      list.append(row);
      if (focused && radio.checked) radio.focus({ preventScroll: true });
    }
    put("no-shots", !at ? "Choose a hole, here or on the map, to see and set right its shots." : shots.length ? "" : "No shot here.");
  };

  const renderForm = () => {
    const shot = chosen && at ? shotNamed(chosen) : null;
    const form = byId("shot-form");
    form.hidden = !shot || mode === "add";
    if (!shot) return;
    byId("shot-h").textContent = `Shot ${shot.shot}`;
    put("shot-note", shot.note);
    const club = byId("shot-club");
    if (club.options.length <= 1) for (const name of state.clubs) club.append(option(name, name));
    club.options[0].textContent = shot.club && GUESSED[shot.club_source] ? `${shot.club}${GUESSED[shot.club_source]}` : "not known";
    const values = {
      club: GUESSED[shot.club_source] ? "" : shot.club, lie: shot.lie, end_lie: shot.end_lie, penalty: shot.penalty ?? 0, to_hole: shot.hole,
    };
    for (const [name, value] of Object.entries(values)) if (!waiting.has(`shot-${name}`)) byId(`shot-${name}`).value = value ?? "";
    byId("shot-confirm").disabled = shot.confidence > 0.999 && shot.corrected;
  };

  const renderScore = () => {
    const one = playing();
    byId("score").hidden = !at;
    const counted = (value, word) => (value === null ? `${word}s unknown` : value === 1 ? `1 ${word}` : `${value} ${word}s`);
    byId("score-said").textContent = !one
      ? "This hole was not played."
      : `${one.strokes === null ? "No score" : counted(one.strokes, "stroke")} on a par ${one.par}: ${counted(one.shots ?? 0, "shot")}, ${counted(one.putts, "putt")}, ${counted(one.penalties ?? 0, "penalty stroke")}.`;
    put("score-note", one?.note);
    byId("score-form").hidden = !one;
    for (const name of ["putts", "penalties", "strokes"]) if (!waiting.has(`score-${name}`)) byId(`score-${name}`).value = one?.[name] ?? "";
  };

  const renderEntries = () => {
    const rows = state.entries.map((entry) => {
      const row = document.createElement("li");
      row.append(entry.note ? `${entry.words}: ${entry.note} ` : `${entry.words} `);
      const back = document.createElement("button");
      back.type = "button";
      back.textContent = "Take back";
      back.setAttribute("aria-label", `Take back ${entry.words}`);
      back.addEventListener("click", () => ask("undo", { id: entry.id }, `taken back: ${entry.words}`, entry));
      row.append(back);
      return row;
    });
    byId("entries").replaceChildren(...rows);
    byId("no-entries").hidden = rows.length > 0;
    byId("doubts").replaceChildren(...state.doubts.map((text) => {
      const row = document.createElement("li");
      row.textContent = text;
      return row;
    }));
  };

  const choose = (name) => {
    if (mode === "add" || name === chosen) return;
    if (mode) setMode(null);
    flush();
    chosen = name;
    renderList(shotsHere());
    renderForm();
    sheet.choose(name);
  };

  const show = (value) => {
    flush();
    setMode(null);
    at = value;
    chosen = null;
    render(true);
    history.replaceState(null, "", `${base}?hole=${hole() || ""}`);
  };

  // Changes, one after the other: each is asked for with the state that the one before it made.
  const ask = (path, fields, words, entry) => {
    queue.push({ path, fields, words, entry, time_s: shotNamed(fields.shot)?.time_s });
    work();
  };

  const change = (name, fields, words) => {
    const shot = shotNamed(name);
    if (!shot) return;
    const note = byId("shot-note-text").value.trim();
    const sent = { shot: name, ...fields };
    if (sent.lon !== undefined) sent.lon = wrapped(sent.lon);
    if (note) sent.note = note;
    ask("change", sent, `shot ${shot.shot} of hole ${shot.hole} ${words}`);
  };

  const work = async () => {
    if (busy || stuck.length) return;
    busy = true;
    edit.classList.add("busy");
    byId("map").setAttribute("aria-busy", "true");
    while (queue.length) {
      const job = queue[0];
      if (!named(job)) {
        queue.shift();
        continue;
      }
      say(`Working: ${job.words}.`);
      const answer = await send(`${base}/${job.path}`, { ...job.fields, seen: state.seen });
      queue.shift();
      if (answer.status === 200) {
        if (job.fields.note && byId("shot-note-text").value.trim() === job.fields.note) byId("shot-note-text").value = "";
        take(answer.data, job);
        say(`Done: ${job.words}.`);
      } else {
        refused(answer, job);
      }
      if (stuck.length) break;
    }
    busy = false;
    edit.classList.remove("busy");
    byId("map").removeAttribute("aria-busy");
  };

  const nearest = (time_s) => {
    let best = null;
    for (const shot of state.shots) {
      const away = Math.abs(shot.time_s - time_s);
      if (away <= SAME_S && (!best || away < Math.abs(best.time_s - time_s))) best = shot;
    }
    return best;
  };

  const take = (data, job) => {
    const time_s = job?.time_s ?? shotNamed(chosen)?.time_s;
    const wasHole = hole();
    state = data;
    if (playing()?.hole !== wasHole && at.startsWith("v")) at = valueOfHole(wasHole);
    const found = time_s === undefined ? null : nearest(time_s);
    if (found && at && found.hole === hole()) chosen = found.name;
    render(false);
  };

  // What went wrong: nothing that was typed or asked for is lost.
  const refused = (answer, job) => {
    stuckWhy = answer.status;
    // What cannot be done stays undone; what was asked of an older state, or of nobody, can be asked again.
    stuck = answer.status === 400 || answer.status === 413 ? [] : [job, ...queue.splice(0)];
    say("");
    render(false);
    trouble(answer.faults, stuck.length > 0, answer.status === 409);
  };

  const trouble = (lines, again, load) => {
    byId("trouble").hidden = false;
    byId("trouble-said").textContent = lines.join(" ");
    byId("trouble-load").hidden = !load;
    byId("trouble-again").hidden = !again;
    byId("trouble-again").textContent = `Do it again: ${stuck.map((job) => job.words).join("; ")}`;
    byId("trouble").scrollIntoView({ block: "nearest" });
  };

  const calm = () => {
    stuck = [];
    byId("trouble").hidden = true;
  };

  const load = async () => {
    const answer = await send(`${base}/state`);
    if (answer.status !== 200) {
      trouble(answer.faults, stuck.length > 0, true);
      return false;
    }
    take(answer.data);
    return true;
  };

  byId("trouble-load").addEventListener("click", async () => {
    if (!(await load())) return;
    say("This is the round as it is now.");
    if (stuck.length) trouble(["This is the round as it is now."], true, false);
    else calm();
  });
  byId("trouble-drop").addEventListener("click", calm);
  byId("trouble-again").addEventListener("click", async () => {
    if (stuckWhy === 409 && !byId("trouble-load").hidden && !(await load())) return;
    const jobs = stuck;
    calm();
    for (const job of jobs) {
      if (job.entry && !state.entries.some((one) => one.id === job.entry.id && one.words === job.entry.words)) {
        trouble([`Not done: ${job.words}. That is not among what was set right any more.`], false, false);
        continue;
      }
      if (job.fields.shot) {
        const shot = shotNamed(job.fields.shot) ?? nearest(job.time_s);
        if (!shot) {
          trouble([`Not done: ${job.words}. That shot is not in the round any more.`], false, false);
          continue;
        }
        job.fields.shot = shot.name;
      }
      queue.push(job);
    }
    work();
  });

  const look = async () => {
    if (!state || busy || stuck.length || document.hidden || !byId("trouble").hidden) return;
    const answer = await send(`${base}/seen`);
    if (answer.status === 200 && answer.data.seen !== state.seen && !busy) {
      trouble(["The round was corrected elsewhere since this was drawn."], false, true);
    }
  };
  window.addEventListener("focus", look);
  document.addEventListener("visibilitychange", look);

  // Fields: a choice by pointer is sent at once, one by keys when it has come to rest.
  const waiting = new Map();
  const flush = () => {
    for (const [id, { timer, done }] of [...waiting]) {
      clearTimeout(timer);
      waiting.delete(id);
      done();
    }
  };
  const soon = (id, wait_ms, done) => {
    clearTimeout(waiting.get(id)?.timer);
    waiting.set(id, { timer: setTimeout(() => { waiting.delete(id); done(); }, wait_ms), done });
  };
  let byKey = false;
  edit.addEventListener("keydown", () => { byKey = true; }, true);
  edit.addEventListener("pointerdown", () => { byKey = false; }, true);

  const watch = (id, done) => {
    const field = byId(id);
    field.addEventListener("change", () => {
      if (!field.checkValidity()) return field.reportValidity();
      const name = chosen;
      const here = at;
      soon(id, byKey || field.type === "number" ? WAIT_MS : 0, () => done(field.value, name, here));
    });
    field.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      field.dispatchEvent(new Event("change"));
      flush();
    });
    field.addEventListener("blur", () => { if (waiting.has(id)) flush(); });
  };
  const SAID = { club: "club", lie: "played from", end_lie: "came to rest:", penalty: "penalty strokes", to_hole: "to hole" };
  for (const [field, words] of Object.entries(SAID)) {
    watch(`shot-${field}`, (value, name) => {
      const shot = shotNamed(name);
      const now = { ...shot, to_hole: shot?.hole }[field];
      const same = String(now ?? "") === value && !(field === "club" && GUESSED[shot?.club_source]);
      if (shot && value !== "" && !same) change(name, { [field]: value }, `${words} ${plain(value)}`);
    });
  }
  for (const field of ["putts", "penalties", "strokes"]) {
    watch(`score-${field}`, (value, _, here) => {
      const one = state.playings.find((played) => `v${played.visit}` === here);
      if (one && value !== "" && String(one[field] ?? "") !== value) askHole(one, { [field]: value }, `${field} ${value}`);
    });
  }
  const askHole = (one, fields, words) => ask("change", { hole: one.hole, visit: one.visit, ...fields }, `hole ${one.hole}: ${words}`);
  for (const what of ["picked_up", "not_played"]) {
    byId(`score-${what}`).addEventListener("click", () => { if (playing()) askHole(playing(), { do: what }, plain(what)); });
  }
  byId("score-form").addEventListener("submit", (event) => event.preventDefault());
  byId("shot-form").addEventListener("submit", (event) => event.preventDefault());
  byId("shot-confirm").addEventListener("click", () => change(chosen, { do: "confirm" }, "confirmed"));
  const remove = () => { if (chosen && at) change(chosen, { do: "remove" }, "taken out"); };
  byId("shot-remove").addEventListener("click", remove);
  byId("shot-move").addEventListener("click", () => sheet.focus(chosen));
  byId("shot-place").addEventListener("click", () => setMode("place"));
  // Which is the last is known when its turn comes: the key may be pressed several times.
  const undo = () => { if (state.entries.length || queue.length) ask("undo", {}, "undone"); };
  const named = (job) => {
    const last = state.entries.at(-1);
    if (job.path === "undo" && !job.entry && last) Object.assign(job, { entry: last, fields: { id: last.id }, words: `undone: ${last.words}` });
    return job.path !== "undo" || Boolean(job.entry);
  };
  byId("undo").addEventListener("click", undo);

  // Taps: a new place of the shot that is chosen, or that of a shot to add.
  const MODES = { place: "Tap where it was played.", add: "Tap where it was played, or choose a time." };
  const setMode = (next) => {
    if (mode === "add" && next !== "add") {
      byId("add-form").hidden = true;
      byId("add").hidden = false;
      sheet.showStops([]);
      sheet.setCross(null);
    }
    mode = next;
    byId("map").classList.toggle("tapping", Boolean(mode));
    byId("mode").hidden = !mode;
    byId("mode-said").textContent = MODES[mode] ?? "";
  };
  byId("mode-off").addEventListener("click", () => { setMode(null); renderForm(); });
  byId("add-off").addEventListener("click", () => { setMode(null); renderForm(); byId("add").focus(); });

  const tapped = (place) => {
    if (mode === "place") {
      const name = chosen;
      setMode(null);
      change(name, { lon: place[0], lat: place[1] }, "moved");
    } else if (mode === "add") {
      fill(moments(place), place);
    }
  };

  const clock = (time_s) => new Date((time_s + ground.utc_offset_s) * 1000).toISOString().slice(11, 19);
  // When the hole was played, with what lies between it and its neighbours.
  const span = () => {
    const index = state.playings.indexOf(playing());
    const times = (one) => state.shots.filter((shot) => shot.visit === one?.visit).map((shot) => shot.time_s);
    if (index < 0) return [-Infinity, Infinity];
    const [last, next] = [state.playings[index - 1], state.playings[index + 1]];
    const before = Math.max(...times(last), last?.left_s ?? -Infinity);
    // What comes after leaving the green is the way to the next tee.
    const after = Math.min(...times(next), playing().left_s ?? Infinity);
    return [before, after];
  };
  const stopsHere = () => {
    const [from, to] = span();
    return state.stops.filter((stop) => stop.place && stop.time_s > from && stop.time_s < to);
  };
  const stopMoment = (stop) => ({
    time_s: stop.time_s, place: stop.place, likely: stop.likely, text: `${stop.clock}, stood ${stop.stood_s} s${stop.likely > 0.2 ? ", may be a shot" : ""}`,
  });

  // The moments when the player was near a place: stops first, then passing by.
  const moments = (place) => {
    const [from, to] = span();
    const stops = stopsHere()
      .map((stop) => ({ ...stopMoment(stop), away_m: sheet.metresBetween(stop.place, place) }))
      .filter((stop) => stop.away_m <= TAP_M)
      .sort((one, other) => one.away_m - other.away_m);
    const passing = [];
    for (const stretch of ground.walk) {
      let best = null;
      for (const [lon, lat, time_s] of stretch) {
        const away_m = time_s > from && time_s < to ? sheet.metresBetween([lon, lat], place) : Infinity;
        if (away_m <= TAP_M) {
          if (!best || away_m < best.away_m) best = { time_s, away_m };
        } else if (best) {
          passing.push(best);
          best = null;
        }
      }
      if (best) passing.push(best);
    }
    const others = passing
      .filter((one) => !stops.some((stop) => Math.abs(stop.time_s - one.time_s) < 30))
      .map((one) => ({ ...one, text: `${clock(one.time_s)}, passing at ${one.away_m.toFixed(0)} m` }));
    return [...stops, ...others];
  };

  const fill = (found, place) => {
    const others = stopsHere().map(stopMoment).filter((stop) => !found.some((one) => one.time_s === stop.time_s));
    adding.moments = [...found, ...others];
    adding.place = place ?? null;
    const options = adding.moments.map((one, index) => option(index, one.text));
    if (!options.length) options.push(option("", "give a time"));
    byId("add-stop").replaceChildren(...options);
    // Without a tap the first guess is the likeliest stop on the way, not one around the green or beyond.
    const last = Math.max(...shotsHere().map((shot) => shot.time_s));
    const way = others.filter((one) => one.time_s < last);
    if (!found.length && way.length) byId("add-stop").value = others.indexOf(way.reduce((one, other) => (other.likely > one.likely ? other : one)));
    byId("add-clock").value = "";
    if (place && !found.length) say("You did not walk near that place on this hole; choose when it was.");
    sheet.setCross(place ?? adding.moments[byId("add-stop").value]?.place ?? null, (moved) => { adding.place = moved; });
  };

  const startAdding = () => {
    if (!state) return;
    if (!at) return;
    flush();
    setMode("add");
    adding = { moments: [], place: null };
    byId("add-form").hidden = false;
    byId("add").hidden = true;
    byId("shot-form").hidden = true;
    byId("add-hole").value = hole();
    sheet.showStops(stopsHere());
    fill([], null);
    byId("add-stop").focus();
  };
  byId("add").addEventListener("click", startAdding);
  byId("add-stop").addEventListener("change", () => {
    const moment = adding.moments[byId("add-stop").value];
    byId("add-clock").value = "";
    if (!adding.place && moment?.place) sheet.setCross(moment.place, (moved) => { adding.place = moved; });
  });
  byId("add-form").addEventListener("submit", (event) => {
    event.preventDefault();
    const typed = byId("add-clock").value.trim();
    const moment = adding.moments[byId("add-stop").value];
    if (!typed && !moment) return say("Give a time.");
    const number = Number(byId("add-hole").value);
    const one = playing()?.hole === number ? playing() : state.playings.find((played) => played.hole === number);
    const fields = { do: "add", hole: number, visit: one?.visit ?? "", clock: typed || new Date(moment.time_s * 1000).toISOString() };
    if (adding.place) Object.assign(fields, { lon: wrapped(adding.place[0]), lat: adding.place[1] });
    if (byId("add-note").value.trim()) fields.note = byId("add-note").value.trim();
    setMode(null);
    byId("add-note").value = "";
    queue.push({ path: "change", fields, words: `shot added to hole ${number}`, time_s: typed ? undefined : moment.time_s });
    work();
    byId("add").focus();
  });

  // Keys
  const writes = (target) => target.matches("textarea, input:not([type=radio]):not([type=checkbox])");
  document.addEventListener("keydown", (event) => {
    if (!state) return;
    const single = byId("keys").checked && !event.target.matches("select") && !event.ctrlKey && !event.metaKey && !event.altKey;
    if (event.key === "Escape" && mode) { setMode(null); renderForm(); return; }
    // A text being written has its own keys, and a choice its letters.
    if (writes(event.target)) return;
    const key = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && key === "z" && !event.shiftKey) undo();
    else if (single && key === "u") undo();
    else if (single && key === "a") startAdding();
    else if (key === "delete" && event.target.closest("#shots, .shot-handle")) remove();
    else return;
    event.preventDefault();
  });

  window.addEventListener("beforeunload", (event) => {
    if (busy || queue.length || stuck.length || waiting.size) event.preventDefault();
  });

  byId("playing").addEventListener("change", () => show(byId("playing").value));
  const step = (by) => {
    const values = [...byId("playing").options].map((one) => one.value);
    show(values[(values.indexOf(at) + by + values.length) % values.length]);
  };
  byId("before").addEventListener("click", () => step(-1));
  byId("after").addEventListener("click", () => step(1));

  const start = async () => {
    say("Loading the round.");
    const [drawn, now] = await Promise.all([send(`${base}/ground`), send(`${base}/state`)]);
    if (drawn.status !== 200 || now.status !== 200) {
      say("");
      trouble([...drawn.faults, ...now.faults], false, false);
      return;
    }
    ground = drawn.data;
    state = now.data;
    sheet.ground(ground);
    const wanted = Number(edit.dataset.hole);
    at = wanted ? valueOfHole(wanted) : state.playings.length ? `v${state.playings[0].visit}` : "";
    render(true);
    say("");
  };
  start();
})();
