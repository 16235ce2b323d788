// Teaching a gauge that no profile fits: it is set to a value, the display is typed, the gauge sends; a few times over, then
// once for proof. What was heard is kept on this page until the lesson is over.

import { byId, one } from "./dom.js";
import { sound } from "./settings.js";

/** @typedef {{ shown: string, bytes: string, pauses?: number[] }} Press */
/** @typedef {{ streams: boolean, asks: string[], least: number }} Plan */

const line = /** @type {HTMLFormElement | null} */ (byId("teach-line"));
const value = /** @type {HTMLFormElement | null} */ (byId("teach-value"));
const words = byId("teach-words");

/** @type {Plan} */
let plan = { streams: false, asks: [], least: 0 };
/** @type {Press[]} */
let presses = [];
let asked = 0;
let busy = false;

/** The port and the settings of its line. */
function at() {
  const data = Object.fromEntries(new FormData(/** @type {HTMLFormElement} */ (line)));
  return { port: data.port, baud: Number(data.baud), bits: Number(data.bits), stop: Number(data.stop), parity: data.parity };
}

/** @param {string} text */
function say(text) {
  if (words) words.textContent = text;
}

/**
 * Asks the service for a part of the lesson; null where it failed, which is said.
 * @param {string} what
 * @param {object} body
 * @returns {Promise<any>}
 */
async function part(what, body) {
  if (busy) return null;
  busy = true;
  try {
    const reply = await fetch(`/teach/${what}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ at: at(), ...body }),
    });
    const text = await reply.text();
    const told = reply.ok ? JSON.parse(text) : { fault: text };
    if (!told.fault) return told;
    say(told.fault);
  } catch (error) {
    say(`The bench does not answer: ${error instanceof Error ? error.message : error}`);
  } finally {
    busy = false;
  }
  sound("refused");
  return null;
}

/** Shows what the gauge is to be set to next. */
function ask() {
  const ask = byId("teach-ask");
  if (!value || !ask) return;
  const last = asked === plan.asks.length - 1;
  ask.textContent = `Set the gauge to ${plan.asks[asked]}. Type what its display shows; press Listen, then ${plan.streams ? "keep it still" : "press its data key once"}.`;
  const skip = byId("teach-skip");
  if (skip) skip.hidden = last || asked < plan.least;
  value.hidden = false;
  const box = one("input", value);
  if (box instanceof HTMLInputElement) {
    box.value = "";
    box.focus();
  }
}

line?.addEventListener("submit", async (event) => {
  event.preventDefault();
  say("Leave the gauge alone for a moment: does it send by itself?");
  const told = await part("begin", {});
  if (!told) return;
  plan = told.plan;
  presses = [];
  asked = 0;
  byId("teach-list")?.replaceChildren();
  say(plan.streams ? "It sends by itself." : "It waits for its data key.");
  ask();
});

value?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const shown = String(new FormData(value).get("shown") ?? "").trim();
  say(plan.streams ? "Listening: keep it still." : "Press the data key now.");
  const told = await part("hear", { streams: plan.streams });
  if (!told) return;
  presses.push({ shown, bytes: told.heard.bytes, pauses: told.heard.pauses });
  const item = document.createElement("li");
  item.textContent = `${shown}: ${told.heard.words}`;
  byId("teach-list")?.append(item);
  sound("taken");
  await next();
});

byId("teach-skip")?.addEventListener("click", () => next());

async function next() {
  asked++;
  if (asked < plan.asks.length) {
    say("");
    ask();
    return;
  }
  if (value) value.hidden = true;
  const name = String(new FormData(/** @type {HTMLFormElement} */ (line)).get("name") ?? "");
  const told = await part("learn", { name, streams: plan.streams, presses });
  if (told) learnt(told.taught);
}

/**
 * Fills the form that registers the gauge with what was learnt.
 * @param {{ profile: string, channel?: string, unit?: string, open?: string[] }} taught
 */
function learnt(taught) {
  const form = /** @type {HTMLFormElement | null} */ (byId("register"));
  if (!form) return;
  const profile = form.elements.namedItem("profile");
  if (profile instanceof HTMLSelectElement) profile.add(new Option(taught.profile, taught.profile, true, true));
  /** @type {Record<string, string>} */
  const known = { port: String(at().port), channel: taught.channel ?? "", unit: taught.unit ?? "" };
  for (const [key, text] of Object.entries(known)) {
    const field = form.elements.namedItem(key);
    if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) field.value = text;
  }
  say(["Learnt and proved. Give the gauge a name below and register it.", ...(taught.open ?? [])].join(" "));
  const first = form.elements.namedItem("name");
  if (first instanceof HTMLInputElement) first.focus();
}
