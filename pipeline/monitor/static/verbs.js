// Verbs: what the page asks of the bench. Each carries an id of its own, so that a click that is sent twice is done once,
// and the place that this page shows, so that one that comes too late is refused.

import { byId, one, say, streamName, system } from "./dom.js";
import { sound } from "./settings.js";
import { isLive } from "./stream.js";
import { ask as askPerson } from "./dialog.js";

/** What was asked and is not answered: the same press again is one press. @type {Set<string>} */
const flying = new Set();

/** A new id. */
export function newId() {
  return [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/**
 * Asks the bench for something and gives its answer; null where it was not asked, or did not answer.
 * @param {Record<string, unknown>} what
 * @returns {Promise<Answer | null>}
 */
export async function ask(what) {
  if (streamName && !isLive()) {
    say("Not live: nothing is sent.", true);
    sound("refused");
    return null;
  }
  const place = one("[data-place]")?.dataset.place;
  const press = JSON.stringify([what, place]);
  if (flying.has(press)) return null;
  flying.add(press);
  document.body.classList.add("busy");
  const request = { id: newId(), system: system(), ...(place ? { seen: JSON.parse(place) } : {}), ...what };
  try {
    const got = await send(request);
    // What is answered anew in the lists below changes the work above them: that comes into sight.
    if (got?.ok && what.verb === "answer" && byId("bench")) scrollTo({ top: 0, behavior: "instant" });
    return got;
  } finally {
    flying.delete(press);
    document.body.classList.toggle("busy", flying.size > 0);
  }
}

/**
 * Sends a request, with the same id again where it was not answered: it is done once, however often it arrives.
 * @param {Record<string, unknown>} request
 * @returns {Promise<Answer | null>}
 */
async function send(request) {
  for (let round = 0; ; round++) {
    try {
      const reply = await fetch("/do", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify(request),
      });
      if (!reply.ok) {
        say(await reply.text(), true);
        sound("refused");
        return null;
      }
      /** @type {Answer} */
      const answer = await reply.json();
      if (answer.words) say(answer.words, !answer.ok);
      if (!answer.ok) sound(answer.ask ? "ask" : "refused");
      return answer;
    } catch (error) {
      if (round >= 2) {
        say(`The bench does not answer: ${error instanceof Error ? error.message : error}`, true);
        sound("fault");
        return null;
      }
      await new Promise((done) => setTimeout(done, 400));
    }
  }
}

const slow = 600; // ms that a confirmation's text must have stood
let stoodSince = performance.now();

/** Marks that the actions have just changed: a confirmation among them counts only after its text has stood. */
export function actionsChanged() {
  stoodSince = performance.now();
}

/**
 * Does what a button says.
 * @param {HTMLElement} button
 * @param {string} [by]
 */
export async function press(button, by) {
  const data = button.dataset;
  if (!data.do && data.go) {
    location.href = data.go;
    return;
  }
  if (!data.do) {
    button.click(); // a page's own button
    return;
  }
  if (data.slow !== undefined && performance.now() - stoodSince < slow) return; // a pedal that bounces
  /** @type {Record<string, unknown>} */
  const what = { verb: data.do };
  for (const key of ["item", "choice", "gauge", "step", "point", "job", "engine", "mark", "what"]) if (data[key]) what[key] = data[key];
  if (by) what.by = by;
  if (data.sure && !(await askPerson(data.sure, ""))) return;
  if (data.asks) {
    const typed = await askPerson(one("span", button)?.textContent?.trim() || button.textContent?.trim() || "", data.asks);
    if (!typed) return;
    Object.assign(what, typed);
  }
  const answer = await ask(what);
  if (!answer?.ok) return;
  if (data.go) location.href = data.go;
  else if (!streamName) location.reload();
}

export function startVerbs() {
  document.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-do], button[data-go]") : null;
    if (!(button instanceof HTMLElement)) return;
    event.preventDefault();
    if (event.detail > 0) button.blur(); // clicked or touched: the keys stay with what the screen puts first
    press(button);
  });
}
