// The newest values of the gauges, put where they belong.

import { all, byId, one, showNumber, text, write } from "./dom.js";
import { showStand } from "./approach.js";
import { fit } from "./fit.js";

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
  showInDrawing(here);
  showStand(here);
  for (const words of all("[data-do=sweep] span")) write(words, words.textContent.replace(/^(Begin|End)/, here?.sweep ? "End" : "Begin"));
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
  showHand(box, item.hand ?? "");
  box.classList.toggle("raw", item.raw === true);
  showAge(box, item);
}

/**
 * The value in the dimension that the gauge reads, in the drawing of this job: in the system of each figure.
 * @param {LiveItem | undefined} item
 */
function showInDrawing(item) {
  if (!item || item.raw) return;
  for (const figure of all(".scene-box [data-live]")) {
    const value = figure.closest(".mm") ? item.v.mm : figure.closest(".inch") ? item.v.inch : text(item.v);
    write(figure, value || "–");
  }
}

/**
 * What the hand does now while the gauge is watched; the page is fitted to it anew.
 * @param {HTMLElement} box
 * @param {string} words
 */
function showHand(box, words) {
  const hand = one("[data-hand]", box);
  if (!hand || hand.textContent === words) return;
  write(hand, words);
  fit();
}

/**
 * Shows how a gauge is and how old its value is; one that counts no more is struck through.
 * @param {HTMLElement} box
 * @param {LiveItem} item
 */
function showAge(box, item) {
  const how = state(box, item);
  write(one("[data-state]", box), how);
  const line = one("[data-age]", box);
  const grows = line !== null && (line.textContent === "") !== (ageOf(item) === "");
  write(line, ageOf(item));
  if (grows) fit();
  box.classList.toggle("gone", !item.open);
  box.classList.toggle("stale", !item.open || how === silent || how === item.fault);
}

/** What is said of a gauge that speaks all the time, and does not now. */
const silent = "silent";

/**
 * How a gauge is, in a word.
 * @param {HTMLElement} box
 * @param {LiveItem} item
 * @returns {string}
 */
function state(box, item) {
  if (!item.open) return "not there";
  if (item.fault) return item.fault;
  if (box.dataset.speaks === "true" && (performance.now() - item.t > 2500 || ageOf(item) !== "")) return silent;
  if (item.sweep) return `turning, ${item.sweep} values`;
  if (item.raw && !box.classList.contains("gauge-line")) return "there, no zero";
  return item.still ? "there, still" : "there";
}

let clockAhead = 0; // ms that the clock of this screen is ahead of that of the service

/**
 * Takes the clock of the service.
 * @param {{ now: number }} beat
 */
export function takeBeat(beat) {
  clockAhead = Date.now() - beat.now;
}

/**
 * How old a value is, in words; "" where it is new.
 * @param {LiveItem} item
 */
function ageOf(item) {
  const seconds = Math.round((Date.now() - clockAhead - (item.at ?? 0)) / 1000);
  if (!item.at || seconds < 3 || text(item.v) === "") return "";
  if (seconds < 120) return `${seconds} seconds old`;
  if (seconds < 7200) return `${Math.round(seconds / 60)} minutes old`;
  return `${Math.round(seconds / 3600)} hours old`;
}

/** Says which gauges have fallen silent, and how old their last values are. */
export function age() {
  for (const box of all("[data-gauge]")) {
    const item = newest.get(box.dataset.gauge ?? "");
    if (item) showAge(box, item);
  }
  // The part on its way is told by the gauge that reads here, whose box is hidden then.
  const here = readsHere();
  const bench = byId("bench");
  if (!bench || !here) return;
  const stale = one("[data-speaks=true].stale") !== null;
  bench.classList.toggle("stale", stale);
  write(one("#moving [data-moving-age]"), stale ? ageOf(here) : "");
}

/** The value of the gauge that reads at the point in work. */
export function readsHere() {
  for (const item of newest.values()) if (item.here) return item;
  return undefined;
}
