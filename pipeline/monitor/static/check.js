// Checks and studies of a gauge: what it shows is read here, line by line; what it means is computed by the service.
"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const check = $("check"), study = $("study"), gauge = check.dataset.gaugeName;
  // What the gauge shows now, in its own unit and with all its digits.
  async function now() {
    try {
      const res = await fetch("/now?" + new URLSearchParams({ gauge }));
      if (res.ok) { const { value } = await res.json(); thoudPage.sound("taken"); return value; }
      thoudPage.say(await res.text());
    } catch (err) { thoudPage.say("The bench does not answer: " + err.message); }
    thoudPage.sound("refused");
    return null;
  }
  async function keep(what) {
    const answer = await thoudPage.ask(Object.assign({ verb: "gauge-check", gauge }, what));
    if (answer?.ok) location.href = "/gauges";
  }

  // The check: a line for each standard.
  $("pair-more").addEventListener("click", () => {
    const line = $("pairs").lastElementChild.cloneNode(true);
    for (const i of line.querySelectorAll("input")) i.value = "";
    $("pairs").append(line);
    line.querySelector("input").focus();
  });
  $("pairs").addEventListener("click", async (e) => {
    const b = e.target.closest("[data-read]");
    if (!b) return;
    const value = await now();
    if (value !== null) b.closest("li").querySelector("[name=shown]").value = value;
  });
  check.addEventListener("submit", (e) => {
    e.preventDefault();
    const pairs = [...$("pairs").children].map((l) => ({ size: l.querySelector("[name=size]").value, shown: l.querySelector("[name=shown]").value }));
    keep({ pairs, standard: check.elements.standard.value.trim(), due: Number(check.elements.due.value) || 0 });
  });

  // The study: the same size again and again.
  const readings = [];
  const times = () => Number(study.elements.times.value) || 0;
  function show() {
    const n = readings.length, of = times(), full = n > 0 && n >= of;
    $("study-words").textContent = full ? `${n} of ${of}: all read` : `${n} of ${of}`;
    $("study-progress").max = Math.max(of, 1);
    $("study-progress").value = Math.min(n, of);
    $("study-list").replaceChildren(...readings.map((r) => { const l = document.createElement("li"); l.textContent = r; return l; }));
    $("study-keep").disabled = !full;
    $("study-undo").disabled = n === 0;
    if ($("study-read")) $("study-read").disabled = full;
  }
  function add(value) { if (value && readings.length < times()) { readings.push(value); show(); } }
  let reading = false;
  $("study-read")?.addEventListener("click", async () => {
    if (reading) return;
    reading = true;
    try { add(await now()); } finally { reading = false; }
  });
  $("study-typed").addEventListener("keydown", (e) => {
    if (e.key !== "Enter") return;
    e.preventDefault();
    add(e.target.value.trim());
    e.target.value = "";
  });
  $("study-undo").addEventListener("click", () => { readings.pop(); show(); });
  study.elements.times.addEventListener("input", show);
  study.addEventListener("submit", (e) => {
    e.preventDefault();
    const size = study.elements.size.value;
    if (readings.length >= times()) keep({ study: true, pairs: readings.map((shown) => ({ size, shown })) });
  });
  show();
})();
