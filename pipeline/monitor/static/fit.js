// What is needed to act must be on the screen without scrolling, and nothing may cover anything. Where it gets tight, what
// only explains makes room first, then the list of points; figures that are too long for the line become smaller, but not
// smaller than can be read from three metres.

import { all, byId, one } from "./dom.js";

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
  for (const step of steps) {
    if (!over(bench)) break;
    body.classList.add(step);
    fitHeroes();
  }
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
  document.fonts?.ready.then(fit);
  fit();
}
