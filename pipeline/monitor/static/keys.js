// Keys. Space and the pedal do what is first; a digit begins a typed value.

import { all, around, byId, field, one, region } from "./dom.js";
import { pedal, togglePanel } from "./settings.js";
import { press } from "./verbs.js";

const inField = "input, select, textarea";
const own = "button, a, summary"; // what has a meaning of its own for space and enter

/** What is first on the screen. */
function first() {
  return one("[data-primary]");
}

/** @param {KeyboardEvent} event */
function down(event) {
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || document.querySelector("dialog[open]")) return;
  const typing = around(event, inField);
  if (event.key === "Escape") {
    typing?.blur();
    if (byId("panel")?.hidden === false) togglePanel();
    return;
  }
  if (event.key === pedal && !(typing && (pedal.length === 1 || pedal === "Enter"))) {
    const button = first();
    if (!button) return;
    event.preventDefault();
    press(button, "pedal");
    return;
  }
  if (typing) return;
  if (event.key === " " && !around(event, own)) {
    const button = first();
    if (region("act") || button) event.preventDefault();
    if (button) press(button);
    return;
  }
  if (/^[0-9.+-]$/.test(event.key) && byId("entry")?.hidden === false) {
    field("typed").focus(); // the character lands in the box
    return;
  }
  if (event.key === "m") {
    byId("unit")?.click();
    return;
  }
  const button = all("[data-key]").find((b) => b.dataset.key === event.key.toLowerCase());
  if (!button) return;
  event.preventDefault();
  press(button);
}

export function startKeys() {
  addEventListener("keydown", down);
  addEventListener("keypress", (event) => {
    if (event.key === " " && region("act") && !around(event, `${inField}, ${own}`)) event.preventDefault();
  });
}
