// Checks and studies of a gauge: what it shows is read here, line by line; what it means is computed by the service.

import { all, byId, field, one, say } from "./dom.js";
import { sound } from "./settings.js";
import { ask } from "./verbs.js";

const check = /** @type {HTMLFormElement} */ (byId("check"));
const study = /** @type {HTMLFormElement} */ (byId("study"));
const gauge = check.dataset.gaugeName ?? "";

/**
 * The value of a field of a form or of a line of it.
 * @param {ParentNode} below
 * @param {string} name
 */
function valueOf(below, name) {
  const input = below.querySelector(`[name="${name}"]`);
  return input instanceof HTMLInputElement ? input.value : "";
}

/**
 * What the gauge shows now, in its own unit and with all its digits; null where it shows nothing.
 * @returns {Promise<string | null>}
 */
async function now() {
  try {
    const reply = await fetch(`/now?${new URLSearchParams({ gauge })}`);
    if (reply.ok) {
      sound("taken");
      return (await reply.json()).value;
    }
    say(await reply.text(), true);
  } catch (error) {
    say(`The bench does not answer: ${error instanceof Error ? error.message : error}`, true);
  }
  sound("refused");
  return null;
}

/** @param {Record<string, unknown>} what */
async function keepCheck(what) {
  const answer = await ask({ verb: "gauge-check", gauge, ...what });
  if (answer?.ok) location.href = "/gauges";
}

// The check: a line for each standard.
byId("pair-more")?.addEventListener("click", () => {
  const pairs = byId("pairs");
  const line = pairs?.lastElementChild?.cloneNode(true);
  if (!(line instanceof HTMLElement)) return;
  for (const input of line.querySelectorAll("input")) input.value = "";
  pairs?.append(line);
  one("input", line)?.focus();
});
byId("pairs")?.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-read]") : null;
  if (!button) return;
  const value = await now();
  const shown = button.closest("li")?.querySelector("[name=shown]");
  if (value !== null && shown instanceof HTMLInputElement) shown.value = value;
});
check.addEventListener("submit", (event) => {
  event.preventDefault();
  const pairs = all("#pairs > li").map((line) => ({ size: valueOf(line, "size"), shown: valueOf(line, "shown") }));
  keepCheck({ pairs, standard: valueOf(check, "standard").trim(), due: Number(valueOf(check, "due")) || 0 });
});

// The study: the same size again and again.
/** @type {string[]} */
const readings = [];
const readButton = /** @type {HTMLButtonElement | null} */ (byId("study-read"));
const times = () => Number(valueOf(study, "times")) || 0;

function show() {
  const n = readings.length;
  const of = times();
  const full = n > 0 && n >= of;
  const words = byId("study-words");
  if (words) words.textContent = full ? `${n} of ${of}: all read` : `${n} of ${of}`;
  const bar = /** @type {HTMLProgressElement} */ (byId("study-progress"));
  bar.max = Math.max(of, 1);
  bar.value = Math.min(n, of);
  byId("study-list")?.replaceChildren(
    ...readings.map((reading) => {
      const line = document.createElement("li");
      line.textContent = reading;
      return line;
    }),
  );
  /** @type {HTMLButtonElement} */ (byId("study-keep")).disabled = !full;
  /** @type {HTMLButtonElement} */ (byId("study-undo")).disabled = n === 0;
  if (readButton) readButton.disabled = full;
}

/** @param {string | null} value */
function add(value) {
  if (!value || readings.length >= times()) return;
  readings.push(value);
  show();
}

let reading = false;
readButton?.addEventListener("click", async () => {
  if (reading) return;
  reading = true;
  try {
    add(await now());
  } finally {
    reading = false;
  }
});
byId("study-typed")?.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  event.preventDefault();
  const input = field("study-typed");
  add(input.value.trim());
  input.value = "";
});
byId("study-undo")?.addEventListener("click", () => {
  readings.pop();
  show();
});
one("[name=times]", study)?.addEventListener("input", show);
study.addEventListener("submit", (event) => {
  event.preventDefault();
  const size = valueOf(study, "size");
  if (readings.length >= times()) keepCheck({ study: true, pairs: readings.map((shown) => ({ size, shown })) });
});
show();
