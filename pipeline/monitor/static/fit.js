// What is needed to act must be on the screen without scrolling, and nothing may cover anything. Where it gets tight, what
// only explains makes room first, then the list of points; figures that are too long for the line become smaller, but not
// smaller than can be read from three metres.

import { all, byId, one, write } from "./dom.js";

const steps = ["tight", "tighter", "tightest"];
const sizes = ["longer", "longest"];

/** Fits the working page to the window. */
export function fit() {
  const bench = byId("bench");
  if (!bench) return;
  const body = document.body;
  const top = bench.getBoundingClientRect().top + scrollY;
  document.documentElement.style.setProperty("--top", `${top}px`);
  body.classList.remove(...steps);
  const act = one(".act");
  if (act) document.documentElement.style.setProperty("--act", `${act.offsetHeight}px`);
  fitHeroes();
  showRows(bench);
  for (const step of steps) {
    if (!over(bench)) break;
    body.classList.add(step);
    fitHeroes();
  }
  dropRows(bench);
  crowd(act);
}

/**
 * Shows every row of a verdict again.
 * @param {HTMLElement} bench
 */
function showRows(bench) {
  for (const row of all(".siderow", bench)) row.hidden = false;
  tellRows(bench, 0);
}

/**
 * Leaves out the last rows of a verdict that still have no room, and says how many there are: they are all listed below. The
 * row with the order that comes first stays whatever else must go.
 * @param {HTMLElement} bench
 */
function dropRows(bench) {
  const rows = all(".siderow", bench);
  const first = rows.find((row) => row.classList.contains("first")) ?? rows[0];
  const others = rows.filter((row) => row !== first);
  for (let dropped = 1; dropped <= others.length && over(bench); dropped++) {
    const last = others[others.length - dropped];
    if (last) last.hidden = true;
    tellRows(bench, dropped);
  }
}

/**
 * @param {HTMLElement} bench
 * @param {number} dropped
 */
function tellRows(bench, dropped) {
  const line = one("[data-more]", bench);
  if (!line) return;
  const more = Number(line.dataset.more) + dropped;
  line.hidden = more === 0;
  write(line, `and ${more} more, all listed below`);
}

/**
 * Makes the actions smaller where they would stand on one another.
 * @param {HTMLElement | null} act
 */
function crowd(act) {
  if (!act) return;
  act.classList.remove("crowded");
  const last = [...all(".buttons button", act)].filter((b) => b.getClientRects().length > 0).pop();
  const entry = byId("entry");
  if (!last || !entry || entry.getClientRects().length === 0) return;
  const a = last.getBoundingClientRect();
  const b = entry.getBoundingClientRect();
  act.classList.toggle("crowded", a.right > b.left && a.left < b.right && a.bottom > b.top && a.top < b.bottom);
}

/**
 * Whether something does not fit into the room above the actions.
 * @param {HTMLElement} bench
 */
function over(bench) {
  const act = one(".act");
  const floor = act ? Math.min(act.getBoundingClientRect().top + scrollY, innerHeight) : innerHeight;
  const box = one(".say-box", bench);
  if (!box) return false;
  return [...box.children].some((child) => lowest(child) + scrollY > floor + 0.5) || box.scrollHeight > box.clientHeight + 1;
}

/**
 * How far down an element goes.
 * @param {Element} element
 * @returns {number}
 */
function lowest(element) {
  const shown = [...element.querySelectorAll("p, li, table, .siderow")].filter((e) => e.getClientRects().length > 0);
  return Math.max(0, ...shown.map((e) => e.getBoundingClientRect().bottom));
}

function fitHeroes() {
  for (const hero of all(".hero")) {
    hero.classList.remove(...sizes);
    for (const size of sizes) {
      if (hero.scrollWidth <= hero.clientWidth + 1) break;
      hero.classList.add(size);
    }
  }
}

export function startFit() {
  addEventListener("resize", fit);
  addEventListener("barchange", fit);
  document.fonts?.ready.then(fit);
  fit();
}
