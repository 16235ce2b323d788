// The page computes nothing: values, places on the rule and words come over the stream. Here they are put in place,
// keys and buttons become verbs, and it is said plainly when the stream is silent.
"use strict";
const thoudPage = (() => {
  const body = document.body, root = document.documentElement;
  const $ = (id) => document.getElementById(id);
  const region = (name) => document.querySelector(`[data-r="${name}"]`);
  const stored = (k, otherwise) => { try { return localStorage.getItem(k) ?? otherwise; } catch { return otherwise; } };
  const store = (k, v) => { try { localStorage.setItem(k, v); } catch { /* for this visit only */ } };
  const say = (words, ms = 9000) => { const s = $("say"); s.textContent = words; s.classList.toggle("on", !!words); clearTimeout(say.t); if (words) say.t = setTimeout(() => say(""), ms); };

  // Units, light or dark, pedal, sounds: kept on this screen; nothing that is stored changes.
  const text = (both) => both ? both[root.dataset.unit === "mm" ? "mm" : "inch"] : "";
  $("unit")?.addEventListener("click", () => {
    root.dataset.unit = root.dataset.unit === "mm" ? "inch" : "mm";
    store("unit", root.dataset.unit);
    showLive();
    wantEntry();
  });
  $("menu")?.addEventListener("click", (e) => toggle(e.currentTarget, document.querySelector(".bar")));
  $("settings")?.addEventListener("click", (e) => { const p = $("panel"); p.hidden = !p.hidden; e.currentTarget.setAttribute("aria-expanded", String(!p.hidden)); if (!p.hidden) p.querySelector("select").focus(); });
  function toggle(button, box) { const on = box.classList.toggle("open"); button.setAttribute("aria-expanded", String(on)); }
  let pedal = stored("pedal", body.dataset.pedal);
  const setting = (id, key, otherwise, apply) => {
    const el = $(id);
    if (!el) return;
    const check = el.type === "checkbox";
    const value = stored(key, otherwise);
    if (check) el.checked = value === "on"; else el.value = value;
    el.addEventListener("change", () => { const v = check ? (el.checked ? "on" : "off") : el.value; store(key, v); apply?.(v); });
  };
  setting("set-theme", "theme", "auto", (v) => { if (v === "auto") delete root.dataset.theme; else root.dataset.theme = v; });
  if ($("set-pedal") && ![...$("set-pedal").options].some((o) => o.value === pedal)) $("set-pedal").add(new Option(pedal, pedal));
  setting("set-pedal", "pedal", body.dataset.pedal, (v) => { pedal = v; });
  setting("set-tones", "tones", "on");
  setting("set-ticks", "ticks", "on");
  setting("set-speech", "speech", "off");
  $("try-tone")?.addEventListener("click", () => { thoudSound.unlock(); thoudSound.play("in"); });
  const unlock = () => { thoudSound.unlock(); link(); };
  addEventListener("keydown", unlock, { capture: true });
  addEventListener("pointerdown", unlock, { capture: true });

  // The stream. A browser allows six to a host, so a hidden tab closes its own. One that is silent for longer than
  // three heartbeats is taken for dead and opened anew; a page that comes back says what it shows and is sent the rest.
  let source = null, at = body.dataset.at, heard = 0, alive = false, wait = 250, again = 0;
  const silent = 9500;
  // A page that has just come, or come back, is given a moment before it is called dead.
  let grace = performance.now() + 1500;
  function open() {
    close();
    if (!body.dataset.stream || document.hidden) return;
    heard = performance.now();
    source = new EventSource(`/stream/${body.dataset.stream}?last=${encodeURIComponent(at)}`);
    const on = (name, f) => source.addEventListener(name, (e) => { heard = performance.now(); wait = 250; if (!alive) { alive = true; link(); } f(JSON.parse(e.data)); });
    on("page", (d) => { at = d.at; for (const [name, html] of Object.entries(d.r)) put(name, html); });
    on("live", (items) => { for (const i of items) live.set(i.g, Object.assign(i, { t: performance.now() })); showLive(); });
    on("tone", (d) => { sound(d.tone); if (d.words && d.tone !== "taken") say(d.words); });
    on("beat", () => {});
    source.onerror = () => { dead(); };
  }
  function close() { source?.close(); source = null; clearTimeout(again); }
  function dead() {
    close();
    alive = false;
    link();
    again = setTimeout(open, wait);
    wait = Math.min(wait * 1.6, 4000);
  }
  setInterval(() => { if (source && performance.now() - heard > silent) dead(); if (!alive) link(); aged(); }, 500);
  document.addEventListener("visibilitychange", () => { if (document.hidden) { close(); alive = false; link(); } else { wait = 250; grace = performance.now() + 1500; open(); link(); } });
  addEventListener("pagehide", close);
  addEventListener("pageshow", (e) => { if (e.persisted) open(); });
  addEventListener("online", () => { wait = 250; open(); });
  function link() {
    const el = $("link");
    if (!el || !body.dataset.stream) return;
        const dead = !alive && performance.now() > grace;
    const mute = alive && body.dataset.work === "true" && stored("tones", "on") === "on" && !thoudSound.ready();
    if (body.classList.contains("dead") !== dead) { body.classList.toggle("dead", dead); fit(); }
    const words = alive ? "live" : dead ? "NOT LIVE" : "…";
    if (el.textContent !== words) el.textContent = words;
    $("mute").hidden = !mute;
  }

  // put replaces a region that changed and keeps the focus where it was.
  function put(name, html) {
    const el = region(name);
    if (!el) return;
    const had = el.contains(document.activeElement) ? document.activeElement : null;
    const before = name === "adjust" ? el.querySelector("[data-words]")?.textContent : "";
    el.innerHTML = html;
    // The bench has moved on: what is first now has the focus, so that the next press does what the screen shows.
    if (had) (el.querySelector("[data-primary]") ?? el.querySelector("button"))?.focus({ preventScroll: true });
    if (name === "live") showLive();
    if (name === "act") { wantEntry(); showLive(); }
    fit();
    if (name === "adjust" && stored("speech", "off") === "on") {
      const words = el.querySelector("[data-words]");
      if (words && words.textContent !== before) thoudSound.speak(spoken(words));
    }
  }
  const spoken = (el) => { const c = el.cloneNode(true); for (const o of c.querySelectorAll(root.dataset.unit === "mm" ? ".inch" : ".mm")) o.remove(); return c.textContent; };

  // What is needed to act must be on the screen without scrolling: where it gets tight, what only explains makes room
  // first, then the list of points, then the drawing gets smaller, and goes last.
  const tightness = ["tight", "tighter", "tightest"];
  function fit() {
    const act = region("act"), bar = act && (act.parentElement.offsetHeight ? act.parentElement : act); // on a narrow screen the parent has no box
    body.classList.remove(...tightness);
    if (!region("live")) return;
    root.style.setProperty("--top", $("main").getBoundingClientRect().top + scrollY + "px");
    if (scrollY > 0) return;
    const shown = ["now", "adjust", "live"].map(region);
    const over = () => Math.max(...shown.map((e) => e.getBoundingClientRect().bottom)) > innerHeight - (bar?.offsetHeight ?? 0) + 0.5;
    for (const t of tightness) { if (!over()) break; body.classList.add(t); }
  }
  addEventListener("resize", fit);

  // Live values.
  const live = new Map();
  let liveHigh = 0;
  function showLive() {
    fillLive();
    const high = region("live")?.offsetHeight ?? 0; // a longer value may take another line
    if (high !== liveHigh) { liveHigh = high; fit(); }
  }
  function fillLive() {
    for (const box of document.querySelectorAll("[data-gauge]")) {
      const item = live.get(box.dataset.gauge);
      if (!item) continue;
      set(box.querySelector("[data-value]"), text(item.v) || "–"); // a gauge that is typed has none
      set(box.querySelector("[data-state]"), state(box, item));
      box.classList.toggle("raw", !!item.raw);
      box.classList.toggle("gone", !item.open);
      if (item.here) { move(item); set(document.querySelector("[data-do=sweep] span"), item.sweep ? "End the turn" : "Begin the turn"); }
    }
  }
  const state = (box, item) => {
    if (!item.open) return "not there";
    if (item.fault) return item.fault;
    if (box.dataset.speaks === "true" && performance.now() - item.t > 2500) return "silent";
    if (item.sweep) return `turning, ${item.sweep} values`;
    return item.raw ? "there, no zero" : item.still ? "there, still" : "there";
  };
  function aged() { for (const box of document.querySelectorAll('[data-gauge][data-speaks="true"]')) { const i = live.get(box.dataset.gauge); if (i) set(box.querySelector("[data-state]"), state(box, i)); } }
  function set(el, words) { if (el && el.textContent !== words) el.textContent = words; }
  let near = null;
  function move(item) {
    const part = document.querySelector("[data-part]"), left = item.left;
    near = left ? { side: left.side, near: left.near, t: performance.now() } : null;
    if (!part) return;
    part.setAttribute("x", left ? left.at : "-20%");
    const to = left ? text(left.to) : "";
    set(document.querySelector("[data-togo]"), !left ? "" : left.side === "in" ? `in, ${to} off` : left.side === "past" ? `${to} PAST` : `${to} to go`);
    region("live").dataset.stands = left ? left.side : "";
  }

  // While a part is moved under the gauge: ticks that quicken towards the target, steady in the band, triple past it.
  function sound(tone) { if (stored("tones", "on") === "on") thoudSound.play(tone); }
  let lastMark = "";
  function tick() {
    let next = 200;
    if (near && alive && !document.hidden && body.dataset.work === "true" && stored("ticks", "on") === "on" && performance.now() - near.t < 2000) {
      const mark = document.querySelector("[data-part]")?.getAttribute("x") ?? "";
      if (mark !== lastMark || tick.rest-- > 0) {
        if (mark !== lastMark) tick.rest = 6; // a part at rest falls silent after a few ticks
        thoudSound.play(near.side === "in" ? "steady" : near.side === "past" ? "past" : "tick");
        next = near.side === "in" ? 420 : near.side === "past" ? 600 : 90 + 700 * (1 - near.near);
      }
      lastMark = mark;
    }
    setTimeout(tick, next);
  }
  tick.rest = 0;
  tick();

  // Verbs. Each carries an id of its own, so that a click that is sent twice is done once, and the place this page shows.
  const newId = () => [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
  const flying = new Set(); // what was asked and is not answered: the same press again is one press
  async function ask(what) {
    if (!alive && body.dataset.stream) { say("Not live: nothing is sent."); sound("refused"); return null; }
    const place = document.querySelector("[data-place]")?.dataset.place;
    const press = JSON.stringify([what, place]);
    if (flying.has(press)) return null;
    flying.add(press);
    body.classList.add("busy");
    const request = Object.assign({ id: newId(), system: root.dataset.unit }, place ? { seen: JSON.parse(place) } : {}, what);
    try {
      for (let round = 0; ; round++) {
        try {
          const res = await fetch("/do", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(request) });
          if (!res.ok) { say(await res.text()); sound("refused"); return null; }
          const answer = await res.json();
          if (answer.words) say(answer.words, answer.ok ? 2500 : 9000);
          if (!answer.ok) sound("refused");
          return answer;
        } catch (err) {
          if (round >= 2) { say("The bench does not answer: " + err.message); sound("fault"); return null; }
          await new Promise((r) => setTimeout(r, 400)); // the same id: done once, however often it arrives
        }
      }
    } finally { flying.delete(press); body.classList.toggle("busy", flying.size > 0); }
  }
  async function press(button, by) {
    const d = button.dataset;
    if (!d.do) { button.click(); return; } // a page's own button
    const what = { verb: d.do };
    for (const k of ["item", "choice", "gauge", "step", "job"]) if (d[k]) what[k] = d[k];
    if (by) what.by = by;
    if (d.sure && !(await dialog(d.sure, ""))) return;
    if (d.asks) { const more = await dialog(button.firstChild.textContent.trim(), d.asks); if (!more) return; Object.assign(what, more); }
    const answer = await ask(what);
    if (answer?.ok && d.go) location.href = d.go;
    else if (answer?.ok && !body.dataset.stream) location.reload();
  }
  document.addEventListener("click", (e) => { const b = e.target.closest?.("[data-do]"); if (!b) return;
    e.preventDefault();
    if (e.detail > 0) b.blur(); // clicked or touched: the keys stay with what the screen puts first
    press(b);
  });
  const fields = { item: [["item", "What"]], reason: [["reason", "Why"]], initials: [["initials", "Initials"]], value: [["typed", "Value"], ["reason", "Why"]] };
  function dialog(title, kind) {
    const d = $("dialog"), box = $("dialog-fields");
    if (!d) return Promise.resolve(null);
    $("dialog-title").textContent = title;
    box.replaceChildren(...(fields[kind] ?? []).map(([name, label]) => { const l = document.createElement("label"); const i = document.createElement("input"); i.name = name; i.required = true; i.maxLength = 200; l.append(label + " ", i); return l; }));
    d.returnValue = "";
    d.showModal();
    box.querySelector("input")?.focus();
    return new Promise((done) => d.addEventListener("close", () => done(d.returnValue === "ok" ? Object.fromEntries(new FormData($("dialog-form"))) : null), { once: true }));
  }

  // Where a typed value is what the step wants, the box is large and has the focus.
  function wantEntry() {
    const entry = $("entry"), verb = document.querySelector("[data-entry]")?.dataset.entry ?? "";
    if (!entry) return;
    entry.dataset.verb = verb || "key";
    const units = document.querySelector("[data-entry]")?.dataset, unit = units && (root.dataset.unit === "mm" ? units.unitMm : units.unitInch);
    $("typed-unit").textContent = unit ? `(${unit})` : "";
    if (verb && !entry.classList.contains("wanted") && document.activeElement === body) $("typed").focus({ preventScroll: true });
    entry.classList.toggle("wanted", !!verb);
    $("turns-box").hidden = units?.turns === undefined || verb === "bracket";
    $("typed").placeholder = verb === "bracket" ? "goes  stops" : "0.0000";
  }
  wantEntry();

  // The entry box: a value typed by hand, or by a gauge that types like a keyboard, with Enter.
  $("entry")?.addEventListener("submit", async (e) => {
    e.preventDefault();
    const typed = $("typed").value.trim();
    if (!typed) return;
    $("typed").value = "";
    $("typed").blur();
    const turns = $("turns-box").hidden ? 0 : Math.trunc(Number($("turns").value.replace("–", "-"))) || 0;
    const answer = await ask(Object.assign({ verb: $("entry").dataset.verb || "key", typed }, turns ? { turns } : {}));
    if (answer && !answer.ok) { $("typed").value = typed; } else { $("turns").value = ""; }
  });

  // Keys. Space and the pedal do what is first; a digit begins a typed value.
  addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey || e.repeat || document.querySelector("dialog[open]")) return;
    const field = e.target.closest?.("input, select, textarea");
    if (e.key === "Escape") { if (field) field.blur(); if ($("panel") && !$("panel").hidden) $("settings").click(); return; }
    if (e.key === pedal && !(field && pedal.length === 1) && !(field && pedal === "Enter")) { const b = document.querySelector("[data-primary]"); if (b) { e.preventDefault(); press(b, "pedal"); } return; }
    if (field) return;
    if (e.key === " " && !e.target.closest?.("button, a, summary")) { const b = document.querySelector("[data-primary]"); if (region("act") || b) e.preventDefault(); if (b) press(b); return; }
    if ($("typed") && /^[0-9.+-]$/.test(e.key)) { $("typed").focus(); return; } // the character lands in the box
    if (e.key === "m") { $("unit")?.click(); return; }
    const b = [...document.querySelectorAll("[data-key]")].find((x) => x.dataset.key === e.key.toLowerCase());
    if (b) { e.preventDefault(); press(b); }
  });

  addEventListener("keypress", (e) => { if (e.key === " " && region("act") && !e.target.closest?.("input, select, textarea, button, a, summary")) e.preventDefault(); });

  // Forms that ask the bench: a build to start, a gauge to register.
  let found = null;
  document.addEventListener("submit", async (e) => {
    const form = e.target.closest?.("form[data-ask]");
    if (!form) return;
    e.preventDefault();
    const what = { verb: form.dataset.ask }, data = Object.fromEntries(new FormData(form));
    if (what.verb === "gauge-add") what.register = Object.assign({}, found?.port === data.port ? found : {}, data, { sense: Number(data.sense) });
    else Object.assign(what, data);
    const answer = await ask(what);
    if (answer?.ok) location.href = form.dataset.go;
  });
  document.addEventListener("click", async (e) => {
    const b = e.target.closest?.("[data-identify]");
    if (!b) return;
    await longWork("/identify", { port: b.dataset.identify }, "Listening at " + b.dataset.identify, (d) => {
      found = d.gauge;
      for (const k of ["name", "port", "profile", "role"]) if (found[k]) $("register").elements[k].value = found[k];
      $("register").elements.name.focus();
      return "Found: " + found.profile;
    });
  });

  // Long work tells how far it is, one JSON object a line, the last with what came of it.
  async function longWork(path, body, begins, done) {
    const box = $("working"), words = $("work-words"), bar = $("work-progress");
    box.hidden = false;
    words.textContent = begins;
    bar.removeAttribute("value");
    try {
      const res = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
      if (!res.ok || !res.body) { words.textContent = await res.text(); return; }
      const reader = res.body.pipeThrough(new TextDecoderStream()).getReader();
      for (let rest = ""; ;) {
        const { value, done: end } = await reader.read();
        if (end) break;
        rest += value;
        const lines = rest.split("\n");
        rest = lines.pop();
        for (const line of lines) {
          const d = JSON.parse(line);
          if ("total" in d) { bar.max = d.total || 1; bar.value = d.done; words.textContent = d.words; continue; }
          bar.value = bar.max;
          words.textContent = d.fault ?? done(d);
        }
      }
    } catch (err) { words.textContent = "It was cut short: " + err.message; }
  }
  document.addEventListener("click", (e) => {
    const b = e.target.closest?.("[data-keep]");
    if (b) longWork("/keep/" + b.dataset.keep, {}, b.textContent + " …", (d) => d.words);
  });

  // The sheet follows the unit; printing prints the sheet, not this page around it.
  function showSheet() {
    for (const el of document.querySelectorAll("[data-sheet]")) {
      const to = `${el.dataset.sheet}&system=${root.dataset.unit}`;
      if (el.tagName === "IFRAME") { if (el.getAttribute("src") !== to) el.src = to; } else el.href = to;
    }
  }
  showSheet();
  $("unit")?.addEventListener("click", showSheet);
  document.querySelector("[data-print]")?.addEventListener("click", () => { const f = $("sheet"); if (f?.contentWindow) f.contentWindow.print(); else print(); });
  // A screen that is watched stays on, where the browser can do it.
  const stayOn = async () => { try { if (!document.hidden && body.dataset.stream) await navigator.wakeLock?.request("screen"); } catch { /* not allowed here */ } };
  document.addEventListener("visibilitychange", stayOn);
  stayOn();
  fit();
  open();
  link();
  return { ask, say, newId, sound, alive: () => alive };
})();
