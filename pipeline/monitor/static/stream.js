// The stream of a page, and whether it is live. A browser allows six to a host, so a hidden tab closes its own. The
// service beats once a second: one that is silent for longer than two beats is taken for dead, which is said at once, and
// opened anew; a page that comes back says what it shows and is sent the rest.

import { byId, streamName, works, write } from "./dom.js";
import { wants } from "./settings.js";
import { player } from "./sound.js";

const silent = 2400; // ms: said within three seconds, also where the service hangs
const moment = 1500; // ms that a page which has just come is given before it is called dead

/** @type {EventSource | null} */
let source = null;
let at = document.body.dataset.at ?? "";
let heard = 0;
let live = false;
let wait = 250;
/** @type {number | undefined} */
let again;
let grace = performance.now() + moment;

/** @type {Map<string, (data: any) => void>} */
const listeners = new Map();
/** @type {(() => void)[]} */
const onLink = [];

/**
 * Calls a function with the data of every event of a name.
 * @param {string} name
 * @param {(data: any) => void} then
 */
export function on(name, then) {
  listeners.set(name, then);
}

/**
 * Calls a function when the page goes dead or comes alive.
 * @param {() => void} then
 */
export function whenLinkChanges(then) {
  onLink.push(then);
}

/** Whether what the page shows is the bench as it is now. */
export function isLive() {
  return live;
}

function open() {
  close();
  if (!streamName || document.hidden) return;
  heard = performance.now();
  source = new EventSource(`/stream/${streamName}?last=${encodeURIComponent(at)}`);
  for (const name of ["beat", "page", "live", "turn", "tone"]) {
    source.addEventListener(name, (event) => {
      heard = performance.now();
      wait = 250;
      if (!live) {
        live = true;
        link();
      }
      const data = JSON.parse(/** @type {MessageEvent} */ (event).data);
      if (name === "page") at = data.at;
      listeners.get(name)?.(data);
    });
  }
  source.onerror = dead;
}

function close() {
  source?.close();
  source = null;
  clearTimeout(again);
}

function dead() {
  close();
  live = false;
  link();
  again = setTimeout(open, wait);
  wait = Math.min(wait * 1.6, 4000);
}

/** Shows whether the page is live, and whether it may sound. */
export function link() {
  const word = byId("link");
  if (!word || !streamName) return;
  const isDead = !live && performance.now() > grace;
  if (document.body.classList.contains("dead") !== isDead) {
    document.body.classList.toggle("dead", isDead);
    for (const then of onLink) then();
  }
  write(word, live ? "live" : isDead ? "NOT LIVE" : "…");
  const mute = byId("mute");
  if (mute) mute.hidden = !(live && works && wants("tones") && !player.ready());
}

export function startStream() {
  setInterval(() => {
    if (source && performance.now() - heard > silent) dead();
    if (!live) link();
  }, 200);
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) {
      close();
      live = false;
    } else {
      wait = 250;
      grace = performance.now() + moment;
      open();
    }
    link();
  });
  addEventListener("pagehide", close);
  addEventListener("pageshow", (event) => {
    if (event.persisted) open();
  });
  addEventListener("online", () => {
    wait = 250;
    open();
  });
  open();
  link();
}
