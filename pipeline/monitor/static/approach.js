// The part on its way: what is left, which way, in words; past the band another face and another tone. Never a verdict.

import { all, byId, one, showNumber, text, works, write } from "./dom.js";
import { isLive } from "./stream.js";
import { wants } from "./settings.js";
import { player } from "./sound.js";
import { fit } from "./fit.js";

/** @type {{ stand: Stand, t: number } | null} */
let now = null;
let mark = 0;
let face = "";

/**
 * Shows how the part stands at the point in work.
 * @param {LiveItem | undefined} item
 */
export function showStand(item) {
  const bench = byId("bench");
  if (!bench) return;
  const stand = item?.open ? item.stand : undefined;
  const moving = stand?.moving === true;
  now = stand && moving ? { stand, t: performance.now() } : null;
  const base = one(".face")?.dataset.face ?? "instruct";
  const next = moving ? `moving ${stand.side}` : base;
  bench.dataset.face = moving ? "moving" : base;
  bench.dataset.side = moving ? stand.side : "";
  for (const button of all("[data-do=take]")) button.classList.toggle("ready", moving && stand.side !== "in");
  showPart(stand);
  if (item && stand && moving) showMoving(item, stand);
  if (next !== face) {
    face = next;
    fit();
  }
}

/**
 * @param {LiveItem} item
 * @param {Stand} stand
 */
function showMoving(item, stand) {
  const box = byId("moving");
  const hero = box && one("[data-hero]", box);
  if (!box || !hero) return;
  write(one("[data-moving-place]", box), item.title ?? "");
  const inBand = stand.side === "in";
  if (inBand) {
    write(one("[data-number]", hero), "IN");
    write(one("[data-unit-of]", hero), "");
  } else {
    showNumber(hero, text(stand.to));
  }
  hero.classList.toggle("up", stand.way === "up");
  const words = one("[data-moving-words]", box);
  if (words) {
    const key = stand.side + (stand.go ?? "") + (item.self ?? "");
    if (words.dataset.key !== key) {
      words.dataset.key = key;
      words.replaceChildren(...wordsOf(stand, item.self === true));
    }
  }
  write(one("[data-moving-note]", box), text(stand.note));
}

/**
 * What the hand does: the way to go, that it went past, or that it may stop.
 * @param {Stand} stand
 * @param {boolean} self
 * @returns {(Node | string)[]}
 */
function wordsOf(stand, self) {
  if (stand.side === "in") return [self ? "Stop. Hold it still: it takes by itself." : "Stop. Hold it there and take it."];
  if (stand.side === "before") return [`to go, ${stand.go}`];
  const past = document.createElement("b");
  past.textContent = "PAST.";
  return [past, ` Back, ${stand.go}`];
}

/**
 * Puts the bar on the rule, its figure beside it where there is room.
 * @param {Stand | undefined} stand
 */
function showPart(stand) {
  const part = one("[data-bar]");
  if (!part) return;
  part.setAttribute("transform", `translate(0 ${stand ? stand.y : -300})`);
  const figure = one("[data-bar-text]", part);
  const near = all("[data-label]").some((l) => stand && Math.abs(Number(l.dataset.label) - 17 - stand.y) < 50);
  write(figure, stand && !near ? text(stand.now) : "");
  // At an end of the rule the figure stands on the inner side of the bar, clear of the word at the end.
  figure?.setAttribute("y", stand && stand.y < 95 ? "52" : stand && stand.y > 735 ? "-18" : "17");
  for (const end of all(".rule [data-end]")) end.classList.toggle("go", stand !== undefined && end.dataset.end === stand.way);
}

/** While a part is moved: ticks that quicken towards the target, steady in the band, three by three past it. */
function tick() {
  let next = 200;
  if (now && isLive() && !document.hidden && works && wants("ticks") && performance.now() - now.t < 2000) {
    const { side, near, y } = now.stand;
    const moved = Math.abs(y - mark) > 0.2;
    if (moved) rest = 6; // a part at rest falls silent after a few ticks
    if (rest-- > 0) {
      player.play(side === "in" ? "steady" : side === "past" ? "past" : "tick");
      next = side === "in" ? 420 : side === "past" ? 600 : 90 + 700 * (1 - near);
    }
    mark = y;
  }
  setTimeout(tick, next);
}
let rest = 0;

export function startApproach() {
  tick();
}
