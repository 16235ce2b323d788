// An engine's values: what was changed is looked at before it is kept. What follows is computed by the service.

import { all, around, byId, field, keep as remember, kept, say, works } from "./dom.js";
import { sound } from "./settings.js";
import { ask } from "./verbs.js";

const form = /** @type {HTMLFormElement | null} */ (byId("engine"));
const engine = form?.dataset.engine ?? "";

/** The fields of values. */
function values() {
  return all("[data-value]", form ?? document).map((e) => /** @type {HTMLInputElement | HTMLSelectElement} */ (e));
}

/** What was typed otherwise than it stands. */
function changed() {
  return values()
    .filter((v) => v.name && v.value.trim() !== v.dataset.was)
    .map((v) => ({ name: v.name, text: v.value.trim() }));
}

/** The reading that is supposed to be another, NAME=VALUE; none where nothing is chosen. */
function supposed() {
  const reading = /** @type {HTMLSelectElement | null} */ (byId("reading"));
  const value = /** @type {HTMLInputElement | null} */ (byId("reading-value"));
  return reading?.value && value?.value.trim() ? [`${reading.value}=${value.value.trim()}`] : [];
}

function source() {
  const input = form?.elements.namedItem("source");
  return input instanceof HTMLInputElement ? input.value.trim() : "";
}

const meant = () => byId("meant") !== null && field("meant").checked;

function show() {
  const n = changed().length + supposed().length;
  for (const words of all("[data-changed]", form ?? document)) {
    words.textContent = n === 0 ? "Nothing is changed yet." : n === 1 ? "1 change." : `${n} changes.`;
  }
  const bar = byId("enginebar"); // where the panel is not beside the values, the way to it goes along
  if (bar) bar.hidden = n === 0;
  for (const v of values()) v.classList.toggle("changed", v.value.trim() !== v.dataset.was);
  forget();
}

/** What was shown belongs to what was typed then. */
function forget() {
  byId("preview")?.replaceChildren();
  const row = byId("keep-row");
  if (row) row.hidden = true;
}

async function look() {
  const texts = supposed();
  if (changed().length + texts.length === 0) {
    say("Nothing is changed yet: type another value first.", true);
    return;
  }
  const what = { engine, job: form?.dataset.job ?? "", values: changed(), texts, source: source(), meant: meant() };
  try {
    const reply = await fetch("/whatif", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(what) });
    if (!reply.ok) {
      say(await reply.text(), true);
      return;
    }
    const answer = await reply.json();
    const preview = byId("preview");
    if (!preview) return;
    if (answer.fault) {
      const words = document.createElement("p");
      words.className = "note";
      words.textContent = answer.words;
      preview.replaceChildren(words);
      sound("refused");
    } else {
      preview.innerHTML = answer.html; // rendered by the service, its texts escaped
    }
    const row = byId("keep-row");
    if (row) row.hidden = !answer.keeps;
    preview.scrollIntoView({ block: "nearest" });
    row?.scrollIntoView({ block: "nearest" }); // what it brings begins under the button that keeps it
  } catch (error) {
    say(`The bench does not answer: ${error instanceof Error ? error.message : error}`, true);
  }
}

/** @param {Record<string, unknown>} what */
async function keep(what) {
  const initials = field("initials").value.trim();
  remember("initials", initials);
  const answer = await ask({ verb: "engine-set", engine, initials, ...what });
  if (!answer?.ok) return;
  if (what.confirm === "asked") location.href = "/bench";
  else location.reload();
}

if (form && works) {
  field("initials").value = kept("initials", "");
  form.addEventListener("input", show);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    look();
  });
  form.addEventListener("click", (event) => {
    const other = around(event, "[data-take]");
    const put = values().find((v) => v.name === other?.dataset.of);
    if (other && put) {
      put.value = other.dataset.take ?? "";
      show();
    }
    const confirm = around(event, "[data-confirm]");
    if (confirm) {
      if (changed().length > 0) say("First keep what you changed, or leave it.", true);
      else keep({ confirm: confirm.dataset.confirm });
    }
  });
  byId("keep")?.addEventListener("click", () => keep({ values: changed(), source: source(), meant: meant() }));
  byId("leave")?.addEventListener("click", () => {
    for (const v of values()) v.value = v.dataset.was ?? "";
    const reading = /** @type {HTMLSelectElement | null} */ (byId("reading"));
    if (reading) reading.value = "";
    show();
  });
  byId("reading")?.addEventListener("change", (event) => {
    const chosen = event.target instanceof HTMLSelectElement ? event.target.selectedOptions[0] : null;
    if (byId("reading-value")) field("reading-value").value = chosen?.dataset.value ?? "";
    show();
  });
} else if (form) {
  for (const v of values()) v.disabled = true;
}
