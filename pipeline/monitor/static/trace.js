// The curve of a turn while it is made: the curve, the angle, what is left to turn, the widest gap. What is kept and
// computed with is the bench's own record.

import { byId, one, showNumber, system, write } from "./dom.js";
import { fit } from "./fit.js";

const svgNS = "http://www.w3.org/2000/svg";
const wide = 1200;
const high = 620;
const left = 110;
const foot = 70;
const margin = 24;
const right = 52;

/** @type {[number, number][]} angle without a jump at 360°, and value */
let points = [];
let wraps = 0;
let on = false;

/** The curve that was traced last, from its beginning. @type {{ text: string, points: [number, number][] }} */
let last = { text: "", points: [] };

/** How far the two gauges have come, in numbers that the page shows. */
const frame = { whole: 360, low: 0, most: 0 };

/**
 * Takes the points that came.
 * @param {{ on: boolean, anew?: boolean, points?: [number, number][] }} event
 */
export function showTurn(event) {
  if (event.anew || !event.on) {
    points = [];
    wraps = 0;
  }
  for (const [angle, value] of event.points ?? []) add(angle, value);
  on = event.on && points.length > 1;
  const box = byId("trace");
  const bench = byId("bench");
  if (!box || !bench) return;
  const changed = box.hidden === on;
  box.hidden = !on;
  bench.classList.toggle("turning", on);
  if (on) draw(box);
  if (changed) fit();
}

/**
 * @param {number} angle
 * @param {number} value
 */
function add(angle, value) {
  const last = points.at(-1);
  if (last) {
    const step = angle + wraps - last[0];
    if (step < -180) wraps += 360;
    else if (step > 180) wraps -= 360;
  }
  points.push([angle + wraps, value]);
}

/** What the plan says of the turn. */
function told() {
  const data = one("[data-trace]")?.dataset ?? {};
  const metric = system() === "mm";
  return {
    whole: Number(data.whole) || 0,
    size: Number(metric ? data.sizeMm : data.sizeInch) || 1,
    places: Number(metric ? data.placesMm : data.placesInch) || 0,
    unit: (metric ? data.unitMm : data.unitInch) ?? "",
    title: data.title ?? "",
    last: lastCurve(data.last ?? ""),
    lastName: data.lastName ?? "",
  };
}

/**
 * @param {string} text as the page has it
 * @returns {[number, number][]}
 */
function lastCurve(text) {
  if (text !== last.text) last = { text, points: text ? JSON.parse(text) : [] };
  return last.points;
}

/** @param {HTMLElement} box */
function draw(box) {
  const plan = told();
  const begin = points[0][0];
  const turned = points.map(([a, v]) => /** @type {[number, number]} */ ([a - begin, v / plan.size]));
  const way = (turned.at(-1)?.[0] ?? 0) < 0 ? -1 : 1;
  const curve = turned.map(([a, v]) => /** @type {[number, number]} */ ([a * way, v]));
  const [angle, value] = curve[curve.length - 1];
  const furthest = Math.max(...curve.map(([a]) => a));
  const before = plan.last.map(([a, v]) => /** @type {[number, number]} */ ([a, v / plan.size]));
  frame.whole = plan.whole || (furthest > 360 ? 720 : 360);
  const values = [...curve, ...before].map(([, v]) => v);
  frame.low = Math.min(0, ...values);
  frame.most = Math.max(...values, frame.low + 1e-6);
  let svg = one("svg", box);
  if (!svg) {
    box.innerHTML = shell;
    svg = one("svg", box);
  }
  if (!svg) return;
  write(one("[data-turn-title]", box), plan.whole ? `Turn on, slowly. Stop at ${plan.whole}°.` : "Turn on, slowly.");
  write(one("[data-turn-name]", box), plan.title);
  const hero = one("[data-hero]", box);
  if (hero) showNumber(hero, `${Math.round(angle)}°`);
  write(one("[data-turn-left]", box), leftToTurn(plan.whole, angle));
  write(one("[data-turn-value]", box), `${value.toFixed(plan.places)} ${plan.unit}`);
  write(one("[data-turn-gap]", box), `widest gap ${widestGap(curve.map(([a]) => a)).toFixed(0)}°, never back`);
  drawPlot(svg, curve, { points: before, name: plan.lastName }, plan.unit);
}

/**
 * @param {number} whole
 * @param {number} angle
 */
function leftToTurn(whole, angle) {
  if (!whole) return `${Math.floor(angle / 360)} turns done`;
  const rest = whole - angle;
  return rest > 0 ? `${Math.round(rest)}° to go` : "Enough: stop.";
}

const shell = `
<p class="far" data-turn-title></p>
<svg class="plot" viewBox="0 0 ${wide} ${high}" role="img" aria-label="The curve so far"></svg>
<div class="turned">
  <p class="note" data-turn-name></p>
  <p class="hero" data-hero><span data-number></span><span class="unit" data-unit-of></span></p>
  <p class="far" data-turn-left></p>
  <p class="far" data-turn-value></p>
  <p class="note" data-turn-gap></p>
</div>`;

/** @param {number} a */
const x = (a) => left + ((wide - left - right) * a) / frame.whole;
/** @param {number} v */
const y = (v) => high - foot - ((high - foot - margin) * (v - frame.low)) / ((frame.most - frame.low) * 1.1);

/**
 * @param {Element} svg
 * @param {[number, number][]} curve
 * @param {{ points: [number, number][], name: string }} before the curve that was traced last
 * @param {string} unit
 */
function drawPlot(svg, curve, before, unit) {
  const parts = [];
  for (let a = 0; a <= frame.whole; a += frame.whole / 8) {
    parts.push(make("path", { class: "grid", d: `M${x(a)} ${margin}V${high - foot}` }), label(x(a), high - 24, String(a), "middle"));
  }
  for (const v of roundTicks(frame.low, frame.most * 1.05)) {
    parts.push(make("path", { class: "grid", d: `M${left} ${y(v)}H${wide - right}` }), label(left - 14, y(v) + 12, trimmed(v), "end"));
  }
  parts.push(label(left - 14, margin + 4, unit, "end"));
  parts.push(make("path", { class: "axis", d: `M${left} ${margin}V${high - foot}H${wide - right}` }));
  const behind = before.points.filter(([a]) => a <= frame.whole);
  if (behind.length > 1) {
    parts.push(make("path", { class: "last", d: path(behind) }));
    const [atX, atY] = behind.reduce((top, p) => (p[1] > top[1] ? p : top));
    const side = atX > frame.whole / 2 ? "end" : "start";
    const name = label(x(atX) + (side === "end" ? -90 : 90), y(atY) + 30, before.name, side);
    name.setAttribute("class", "last-name");
    parts.push(name);
  }
  const [angle, value] = curve[curve.length - 1];
  parts.push(make("path", { class: "done", d: `M${left} ${high - foot + 12}H${x(Math.min(angle, frame.whole))}` }));
  parts.push(make("path", { class: "now", d: `M${x(angle)} ${margin}V${high - foot}` }));
  parts.push(make("path", { class: "curve", d: path(curve) }));
  parts.push(make("circle", { class: "dot", cx: String(x(angle)), cy: String(y(value)), r: "12" }));
  svg.replaceChildren(...parts);
}

/** @param {[number, number][]} curve */
function path(curve) {
  return "M" + curve.map(([a, v]) => `${x(a).toFixed(1)} ${y(v).toFixed(1)}`).join("L");
}

/**
 * @param {string} name
 * @param {Record<string, string>} attributes
 */
function make(name, attributes) {
  const element = document.createElementNS(svgNS, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

/**
 * @param {number} atX
 * @param {number} atY
 * @param {string} words
 * @param {string} anchor
 */
function label(atX, atY, words, anchor) {
  const text = make("text", { x: String(atX), y: String(atY), "text-anchor": anchor });
  text.textContent = words;
  return text;
}

/**
 * Round values between two, about four.
 * @param {number} low
 * @param {number} most
 * @returns {number[]}
 */
export function roundTicks(low, most) {
  const rough = (most - low) / 4;
  if (!(rough > 0)) return [low];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough) ?? 10 * power;
  const ticks = [];
  for (let i = Math.ceil(low / step); i * step <= most; i++) ticks.push(i * step);
  return ticks;
}

/** @param {number} value */
function trimmed(value) {
  return String(Number(value.toPrecision(6))).replace("-", "−");
}

/**
 * The widest gap between neighbouring angles of those turned so far.
 * @param {number[]} angles
 */
export function widestGap(angles) {
  const sorted = [...angles].sort((a, b) => a - b);
  return sorted.reduce((widest, a, i) => (i === 0 ? 0 : Math.max(widest, a - sorted[i - 1])), 0);
}

export function startTurn() {
  on = false;
}
