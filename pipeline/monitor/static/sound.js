// Tones differ in their pattern, not only in pitch. Each is a list of [start, length, pitch] in ms and Hz.
"use strict";
const thoudSound = (() => {
  const patterns = {
    taken: [[0, 90, 880]],
    zero: [[0, 70, 660], [120, 70, 660]],
    in: [[0, 90, 660], [110, 90, 880], [220, 180, 1100]],
    out: [[0, 260, 440], [320, 260, 330]],
    close: [[0, 90, 660], [130, 260, 550], [430, 90, 660]],
    ask: [[0, 80, 700], [120, 240, 700], [400, 80, 700]],
    fault: [[0, 70, 300], [110, 70, 300], [220, 70, 300], [330, 70, 300]],
    refused: [[0, 70, 300], [110, 70, 300]],
    tick: [[0, 18, 1000]],
    steady: [[0, 60, 1300]],
    past: [[0, 30, 500], [60, 30, 500], [120, 30, 500]],
  };
  let ctx = null;
  // A browser lets a page sound only after a gesture; until then there is nothing to play on.
  function unlock() {
    if (!ctx) {
      const Ctx = window.AudioContext || window.webkitAudioContext;
      if (!Ctx) return;
      ctx = new Ctx();
    }
    if (ctx.state === "suspended") ctx.resume();
  }
  function ready() { return !!ctx && ctx.state === "running"; }
  function play(name) {
    const pattern = patterns[name];
    if (!pattern || !ready()) return false;
    const now = ctx.currentTime + 0.01;
    for (const [start, length, pitch] of pattern) {
      const osc = ctx.createOscillator(), gain = ctx.createGain();
      const from = now + start / 1000, to = from + length / 1000;
      osc.frequency.value = pitch;
      gain.gain.setValueAtTime(0, from);
      gain.gain.linearRampToValueAtTime(0.25, from + 0.006);
      gain.gain.setValueAtTime(0.25, Math.max(from + 0.007, to - 0.012));
      gain.gain.linearRampToValueAtTime(0, to);
      osc.connect(gain).connect(ctx.destination);
      osc.start(from);
      osc.stop(to + 0.02);
    }
    return true;
  }
  function speak(words) {
    if (!("speechSynthesis" in window) || !words) return;
    speechSynthesis.cancel();
    const u = new SpeechSynthesisUtterance(words);
    u.lang = "en";
    speechSynthesis.speak(u);
  }
  return { unlock, ready, play, speak };
})();
