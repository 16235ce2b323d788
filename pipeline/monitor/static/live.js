// The newest values of the gauges, put where they belong.

import { all, one, showNumber, text, write } from "./dom.js";
import { showStand } from "./approach.js";

/** @type {Map<string, LiveItem>} */
const newest = new Map();

/**
 * Takes the values that came.
 * @param {LiveItem[]} items
 */
export function takeLive(items) {
  for (const item of items) {
    item.t = performance.now();
    newest.set(item.g, item);
  }
  showLive();
}

/** Shows every gauge's newest value. */
export function showLive() {
  /** @type {LiveItem | undefined} */
  let here;
  for (const item of newest.values()) if (item.here) here = item;
  for (const box of all("[data-gauge]")) {
    const item = newest.get(box.dataset.gauge ?? "");
    if (item) showIn(box, item);
  }
  showStand(here);
  for (const words of all("[data-do=sweep] span")) write(words, here?.sweep ? "End the turn" : "Begin the turn");
}

/**
 * @param {HTMLElement} box
 * @param {LiveItem} item
 */
function showIn(box, item) {
  const value = text(item.v);
  write(one("[data-value]", box), value || "–");
  const hero = one("[data-hero]", box);
  if (hero) showNumber(hero, value);
  write(one("[data-state]", box), state(box, item));
  box.classList.toggle("raw", item.raw === true);
  box.classList.toggle("gone", !item.open);
}

/**
 * How a gauge is, in a word.
 * @param {HTMLElement} box
 * @param {LiveItem} item
 * @returns {string}
 */
function state(box, item) {
  if (!item.open) return "not there";
  if (item.fault) return item.fault;
  if (box.dataset.speaks === "true" && performance.now() - item.t > 2500) return "silent";
  if (item.sweep) return `turning, ${item.sweep} values`;
  if (item.raw) return "there, no zero";
  return item.still ? "there, still" : "there";
}

/** Says which gauges have fallen silent. */
export function age() {
  for (const box of all('[data-gauge][data-speaks="true"]')) {
    const item = newest.get(box.dataset.gauge ?? "");
    if (item) write(one("[data-state]", box), state(box, item));
  }
}

/** The value of the gauge that reads at the point in work. */
export function readsHere() {
  for (const item of newest.values()) if (item.here) return item;
  return undefined;
}
