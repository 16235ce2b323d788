// What every page does. It computes nothing: values, places on the rule and words come over the stream. Here they are put
// in place, keys and buttons become verbs, and it is said plainly when the stream is silent.

import { byId, one, say, streamName, text } from "./dom.js";
import { sound, startSettings, whenUnitChanges } from "./settings.js";
import { player } from "./sound.js";
import { link, on, startStream, whenLinkChanges } from "./stream.js";
import { putPage, whenPut } from "./regions.js";
import { age, showLive, takeBeat, takeLive } from "./live.js";
import { startApproach } from "./approach.js";
import { showTurn, startTurn } from "./trace.js";
import { fit, startFit } from "./fit.js";
import { actionsChanged, startVerbs } from "./verbs.js";
import { startEntry, wantEntry } from "./entry.js";
import { startKeys } from "./keys.js";
import { startForms } from "./forms.js";
import { startSheet } from "./sheet.js";

startSettings();
startVerbs();
startKeys();
startForms();
startSheet();
startEntry();
startApproach();
startTurn();

on("page", (event) => {
  putPage(event);
  upToWork();
  showLive();
  fit();
});
on("live", takeLive);
on("beat", takeBeat);
on("turn", showTurn);
on("tone", (event) => {
  if (event.tone) sound(event.tone);
  if (event.taken) say(`✓ ${text(event.taken)}`);
  else if (event.words) say(event.words, event.tone === "fault" || event.tone === "refused");
});
whenPut((name) => {
  if (name !== "act") return;
  actionsChanged();
  wantEntry();
});
whenUnitChanges(() => {
  showLive();
  wantEntry();
  fit();
});
whenLinkChanges(fit);
setInterval(age, 500);

let shownWork = "";

/** Where the bench has moved on, what it says now is brought into sight: whoever looked at the lists below is told. */
function upToWork() {
  const work = `${one("[data-place]")?.dataset.place} ${one("[data-stage]")?.dataset.stage}`;
  const moved = shownWork !== "" && work !== shownWork;
  shownWork = work;
  if (moved && byId("bench") && !document.activeElement?.closest(".more, .photoform, .panel")) scrollTo({ top: 0, behavior: "instant" });
}

// A browser lets a page sound only after a gesture.
for (const gesture of ["keydown", "pointerdown"]) {
  addEventListener(
    gesture,
    () => {
      player.unlock();
      link();
    },
    { capture: true },
  );
}

// A screen that is watched stays on, where the browser can do it.
async function stayOn() {
  try {
    if (!document.hidden && streamName) await navigator.wakeLock?.request("screen");
  } catch {
    // not allowed here
  }
}
document.addEventListener("visibilitychange", stayOn);
stayOn();

upToWork();
showLive();
startFit();
startStream();
