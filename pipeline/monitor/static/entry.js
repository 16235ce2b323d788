// The box for a value that is typed by hand, or by a gauge that types like a keyboard, with Enter. It is there only where
// something can be typed; where a typed value is what the step wants it is large and has the focus.

import { around, byId, field, one, system } from "./dom.js";
import { ask } from "./verbs.js";
import { ask as askPerson } from "./dialog.js";
import { fit } from "./fit.js";

let shownPlace = "";

/** How a value of a unit looks; of the others it has one place. @type {Record<string, string | undefined>} */
const shapes = { in: "0.0000", mm: "0.000" };

/** The unit of the other system that the person meant, and the step it was said for. */
let sure = { unit: "", step: "" };

/** The step that the page shows. */
function shownStep() {
  const place = JSON.parse(one("[data-place]")?.dataset.place ?? "{}");
  return `${place.build ?? ""} ${place.step ?? ""}`;
}

/**
 * Asks the bench to take what was typed. A value in a unit of the other system is asked about once a step.
 * @param {Record<string, unknown>} what
 */
async function askTyped(what) {
  const agreed = sure.step === shownStep() ? { sure: sure.unit } : {};
  const answer = await ask({ ...what, ...agreed });
  if (!answer?.ask) return answer;
  if (!(await askPerson(answer.ask, ""))) return null;
  sure = { unit: answer.unit ?? "", step: shownStep() };
  return ask({ ...what, sure: sure.unit });
}

/** Shows the box as the point in work wants it. */
export function wantEntry() {
  const entry = byId("entry");
  const buttons = one("[data-entry]");
  if (!entry || !buttons) return;
  const data = buttons.dataset;
  const verb = data.entry ?? "";
  const input = field("typed");
  entry.hidden = verb === "" && data.types !== "true";
  entry.dataset.verb = verb || "key";
  const unit = (system() === "mm" ? data.unitMm : data.unitInch) ?? "";
  const label = byId("typed-unit");
  if (label) label.textContent = unit ? `(${unit})` : "";
  const movedOn = data.place !== shownPlace;
  shownPlace = data.place ?? "";
  if (movedOn && !verb && document.activeElement === input) {
    input.value = "";
    input.blur(); // what was begun belongs to the point that the bench has left
  }
  if (verb && (document.activeElement === document.body || document.activeElement === null)) input.focus({ preventScroll: true });
  entry.classList.toggle("wanted", verb !== "");
  const turns = byId("turns-box");
  if (turns) turns.hidden = data.turns === undefined || verb === "bracket";
  input.placeholder = verb === "bracket" ? "goes  stops" : (shapes[unit] ?? "0.0");
}

/** @param {SubmitEvent} event */
async function enter(event) {
  event.preventDefault();
  const input = field("typed");
  const typed = input.value.trim();
  if (!typed) return;
  input.value = "";
  input.blur();
  const box = byId("turns-box");
  const turns = field("turns");
  const turned = box?.hidden === false ? Math.trunc(Number(turns.value.replace(/[–−]/, "-"))) || 0 : 0;
  const verb = byId("entry")?.dataset.verb || "key";
  const answer = await askTyped({ verb, typed, ...(turned ? { turns: turned, gauge: one("[data-reader]")?.dataset.reader } : {}) });
  if (answer?.ok) turns.value = "";
  byId("entry")?.classList.remove("open");
  wantEntry();
}

export function startEntry() {
  byId("entry")?.addEventListener("submit", enter);
  document.addEventListener("click", (event) => {
    if (!around(event, "[data-type]")) return;
    byId("entry")?.classList.toggle("open");
    fit();
    if (byId("entry")?.classList.contains("open")) field("typed").focus();
  });
  wantEntry();
}
