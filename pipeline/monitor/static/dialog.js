// The dialog: a question before something is done, or a word to be typed with it.

import { byId, one } from "./dom.js";

/** @type {Record<string, [string, string][]>} */
const fields = {
  item: [["item", "What"]],
  reason: [["reason", "Why"]],
  initials: [["initials", "Initials"]],
  value: [
    ["typed", "Value"],
    ["reason", "Why"],
  ],
};

/** Who waits for the question that is open. @type {((answer: Record<string, FormDataEntryValue> | null) => void) | null} */
let waiting = null;

/**
 * Asks the person; gives what was typed, or null where it was left.
 * @param {string} title
 * @param {string} kind of the fields; "" none
 * @returns {Promise<Record<string, FormDataEntryValue> | null>}
 */
export function ask(title, kind) {
  const dialog = /** @type {HTMLDialogElement | null} */ (byId("dialog"));
  const box = byId("dialog-fields");
  const form = /** @type {HTMLFormElement | null} */ (byId("dialog-form"));
  const heading = byId("dialog-title");
  if (!dialog || !box || !form || !heading) return Promise.resolve(null);
  heading.textContent = title;
  box.replaceChildren(...(fields[kind] ?? []).map(([name, label]) => labelled(name, label)));
  waiting?.(null); // whoever asked before: that question was left
  dialog.returnValue = "";
  dialog.showModal();
  one("input", box)?.focus();
  return new Promise((done) => {
    waiting = done;
    dialog.addEventListener("close", function closed() {
      if (dialog.open) return; // the event of the question before comes after this one was opened
      dialog.removeEventListener("close", closed);
      if (waiting !== done) return;
      waiting = null;
      done(dialog.returnValue === "ok" ? Object.fromEntries(new FormData(form)) : null);
    });
  });
}

/**
 * @param {string} name
 * @param {string} words
 */
function labelled(name, words) {
  const label = document.createElement("label");
  const input = document.createElement("input");
  input.name = name;
  input.required = true;
  input.maxLength = 200;
  label.append(`${words} `, input);
  return label;
}
