// Unit, light or dark, pedal, sounds: kept on this screen. Nothing that is stored changes with them.

import { byId, field, keep, kept, one, system } from "./dom.js";
import { player } from "./sound.js";

const root = document.documentElement;

/** The key that the pedal types, as the browser names it. */
export let pedal = kept("pedal", document.body.dataset.pedal ?? "");

/** @type {(() => void)[]} */
const onUnit = [];

/**
 * Calls a function whenever the unit system is changed.
 * @param {() => void} then
 */
export function whenUnitChanges(then) {
  onUnit.push(then);
}

/**
 * Whether a sound is wanted: "tones", "ticks" or "speech".
 * @param {string} which
 * @returns {boolean}
 */
export function wants(which) {
  return kept(which, which === "speech" ? "off" : "on") === "on";
}

/**
 * Plays a tone where tones are wanted.
 * @param {string} tone
 */
export function sound(tone) {
  if (wants("tones")) player.play(tone);
}

/**
 * Ties a field of the panel to what is kept.
 * @param {string} id
 * @param {string} key
 * @param {string} otherwise
 * @param {(value: string) => void} [apply]
 */
function setting(id, key, otherwise, apply) {
  const input = field(id);
  if (!input) return;
  const box = input.type === "checkbox";
  const value = kept(key, otherwise);
  if (box) input.checked = value === "on";
  else input.value = value;
  input.addEventListener("change", () => {
    const chosen = box ? (input.checked ? "on" : "off") : input.value;
    keep(key, chosen);
    apply?.(chosen);
  });
}

/** Opens or closes the panel of the settings. */
export function togglePanel() {
  const panel = byId("panel");
  if (!panel) return;
  panel.hidden = !panel.hidden;
  byId("settings")?.setAttribute("aria-expanded", String(!panel.hidden));
  if (!panel.hidden) one("select", panel)?.focus();
}

export function startSettings() {
  byId("unit")?.addEventListener("click", () => {
    root.dataset.unit = system() === "mm" ? "inch" : "mm";
    keep("unit", root.dataset.unit);
    for (const then of onUnit) then();
  });
  byId("menu")?.addEventListener("click", () => {
    const open = one(".bar")?.classList.toggle("open") ?? false;
    byId("menu")?.setAttribute("aria-expanded", String(open));
  });
  byId("settings")?.addEventListener("click", togglePanel);
  setting("set-theme", "theme", "auto", (theme) => {
    if (theme === "auto") delete root.dataset.theme;
    else root.dataset.theme = theme;
  });
  const keys = /** @type {HTMLSelectElement | null} */ (byId("set-pedal"));
  if (keys && ![...keys.options].some((o) => o.value === pedal)) keys.add(new Option(pedal, pedal));
  setting("set-pedal", "pedal", document.body.dataset.pedal ?? "", (key) => {
    pedal = key;
  });
  setting("set-tones", "tones", "on");
  setting("set-ticks", "ticks", "on");
  setting("set-speech", "speech", "off");
  byId("try-tone")?.addEventListener("click", () => {
    player.unlock();
    player.play("in");
  });
}
