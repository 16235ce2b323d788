// Parts of the page that the service renders anew: whole regions, or single rows of them. The focus stays where it is of
// use, and goes to what is first where the bench has moved on.

import { all, one, region, system } from "./dom.js";
import { wants } from "./settings.js";
import { player } from "./sound.js";

/** @type {((name: string) => void)[]} */
const onPut = [];

/**
 * Calls a function after a region was put in place.
 * @param {(name: string) => void} then
 */
export function whenPut(then) {
  onPut.push(then);
}

/**
 * @typedef {object} PageEvent
 * @property {Record<string, string>} [r] whole regions
 * @property {Record<string, Record<string, string>>} [rows] rows of regions by their keys
 */

/**
 * Puts in place what changed.
 * @param {PageEvent} event
 */
export function putPage(event) {
  for (const [name, html] of Object.entries(event.r ?? {})) putRegion(name, html);
  for (const [name, rows] of Object.entries(event.rows ?? {})) {
    const box = region(name);
    for (const [key, html] of Object.entries(rows)) if (box) putRow(box, key, html);
    for (const then of onPut) then(name);
  }
}

/**
 * @param {string} name
 * @param {string} html
 */
function putRegion(name, html) {
  const box = region(name);
  if (!box) return;
  const had = box.contains(document.activeElement);
  const before = name === "say" ? spoken() : "";
  box.innerHTML = html;
  if (had) focusFirst(box);
  for (const then of onPut) then(name);
  if (name === "say" && wants("speech")) {
    const words = spoken();
    if (words && words !== before) player.speak(words);
  }
}

/**
 * @param {HTMLElement} box
 * @param {string} key
 * @param {string} html
 */
function putRow(box, key, html) {
  const old = all("[data-row]", box).find((row) => row.dataset.row === key);
  const parent = old?.parentElement;
  if (!old || !parent) return;
  const had = old.contains(document.activeElement);
  const at = [...parent.children].indexOf(old);
  old.outerHTML = html.trim(); // read as what stands there: a row of a table, a part of a drawing
  const row = parent.children[at];
  if (had && row) focusFirst(row);
}

/**
 * What is first now has the focus, so that the next press does what the screen shows.
 * @param {Element} box
 */
function focusFirst(box) {
  const first = one("[data-primary]", box) ?? one("button", box);
  first?.focus({ preventScroll: true });
}

/** The order to carry out now, as it is spoken. */
function spoken() {
  const order = one("[data-speak-mm]");
  return (system() === "mm" ? order?.dataset.speakMm : order?.dataset.speakInch) ?? "";
}
