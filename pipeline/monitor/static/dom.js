// Small helpers: elements, what is kept on this screen, the unit system, and the line that says what was done.

const root = document.documentElement;

/**
 * The element of an id; null where the page has none.
 * @param {string} id
 * @returns {HTMLElement | null}
 */
export function byId(id) {
  return document.getElementById(id);
}

/**
 * The field of an id, which the page is known to have.
 * @param {string} id
 * @returns {HTMLInputElement}
 */
export function field(id) {
  return /** @type {HTMLInputElement} */ (document.getElementById(id));
}

/**
 * A region of the page: a part that the service renders anew.
 * @param {string} name
 * @returns {HTMLElement | null}
 */
export function region(name) {
  return document.querySelector(`[data-r="${name}"]`);
}

/**
 * All elements of a selector below another.
 * @param {string} selector
 * @param {ParentNode} [below]
 * @returns {HTMLElement[]}
 */
export function all(selector, below = document) {
  return [...below.querySelectorAll(selector)].map((e) => /** @type {HTMLElement} */ (e));
}

/**
 * The first element of a selector below another.
 * @param {string} selector
 * @param {ParentNode} [below]
 * @returns {HTMLElement | null}
 */
export function one(selector, below = document) {
  return below.querySelector(selector);
}

/**
 * The nearest element around where something happened that a selector finds.
 * @param {Event} event
 * @param {string} selector
 * @returns {HTMLElement | null}
 */
export function around(event, selector) {
  return event.target instanceof Element ? event.target.closest(selector) : null;
}

/**
 * Writes a text where it is not there yet, so that a screen reader is not told the same again.
 * @param {Element | null} element
 * @param {string} words
 */
export function write(element, words) {
  if (element && element.textContent !== words) element.textContent = words;
}

/**
 * Writes a value in the largest figures, its unit smaller.
 * @param {HTMLElement} hero
 * @param {string} value
 */
export function showNumber(hero, value) {
  const cut = Math.max(value.lastIndexOf(" "), value.lastIndexOf("\u00a0"));
  write(one("[data-number]", hero), cut < 0 ? value || "–" : value.slice(0, cut));
  write(one("[data-unit-of]", hero), cut < 0 ? "" : value.slice(cut + 1));
}

/**
 * What is kept on this screen under a key.
 * @param {string} key
 * @param {string} otherwise
 * @returns {string}
 */
export function kept(key, otherwise) {
  try {
    return localStorage.getItem(key) ?? otherwise;
  } catch {
    return otherwise;
  }
}

/**
 * Keeps something on this screen; where that is not allowed, for this visit only.
 * @param {string} key
 * @param {string} value
 */
export function keep(key, value) {
  try {
    localStorage.setItem(key, value);
  } catch {
    // for this visit only
  }
}

/**
 * The unit system that the screen shows.
 * @returns {"mm" | "inch"}
 */
export function system() {
  return root.dataset.unit === "mm" ? "mm" : "inch";
}

/**
 * A text in the system that the screen shows.
 * @param {Both | undefined} both
 * @returns {string}
 */
export function text(both) {
  return both ? both[system()] : "";
}

/** @type {number | undefined} */
let sayEnds;

/**
 * Says what was done, or why not, in the room kept for it. A refusal stands out and stays longer.
 * @param {string} words
 * @param {boolean} [bad]
 */
export function say(words, bad = false) {
  const line = byId("say");
  if (!line) return;
  line.textContent = words;
  line.title = words;
  line.classList.toggle("bad", bad && words !== "");
  spread(line);
  clearTimeout(sayEnds);
  if (words) sayEnds = setTimeout(() => say(""), bad ? 12000 : 6000);
}

/**
 * Gives words that do not fit into the room kept for them a line of their own: what to do stands at their end.
 * @param {HTMLElement} line
 */
function spread(line) {
  const was = line.classList.contains("long");
  line.classList.remove("long");
  const long = line.scrollHeight > line.clientHeight + 1;
  line.classList.toggle("long", long);
  if (long !== was) dispatchEvent(new Event("barchange"));
}

/** Whether the viewer of this page may work. */
export const works = document.body.dataset.work === "true";

/** The name of the page's stream; "" where it has none. */
export const streamName = document.body.dataset.stream ?? "";
