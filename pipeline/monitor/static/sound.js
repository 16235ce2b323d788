// Tones differ in their pattern, not only in pitch. Each is a list of [start, length, pitch] in ms and Hz.

/** @type {Record<string, [number, number, number][]>} */
const patterns = {
  taken: [[0, 90, 880]],
  zero: [
    [0, 70, 660],
    [120, 70, 660],
  ],
  in: [
    [0, 90, 660],
    [110, 90, 880],
    [220, 180, 1100],
  ],
  out: [
    [0, 260, 440],
    [320, 260, 330],
  ],
  close: [
    [0, 90, 660],
    [130, 260, 550],
    [430, 90, 660],
  ],
  ask: [
    [0, 80, 700],
    [120, 240, 700],
    [400, 80, 700],
  ],
  fault: [
    [0, 70, 300],
    [110, 70, 300],
    [220, 70, 300],
    [330, 70, 300],
  ],
  refused: [
    [0, 70, 300],
    [110, 70, 300],
  ],
  tick: [[0, 18, 1000]],
  steady: [[0, 60, 1300]],
  past: [
    [0, 30, 500],
    [60, 30, 500],
    [120, 30, 500],
  ],
};

/** @type {AudioContext | null} */
let context = null;

/** The player: an object, so that a test may listen in its place. */
export const player = {
  /** A browser lets a page sound only after a gesture; until then there is nothing to play on. */
  unlock() {
    if (!context) {
      const Context = window.AudioContext ?? window.webkitAudioContext;
      if (!Context) return;
      context = new Context();
    }
    if (context.state === "suspended") context.resume();
  },

  /** @returns {boolean} */
  ready() {
    return context !== null && context.state === "running";
  },

  /**
   * @param {string} name
   * @returns {boolean} whether it was played
   */
  play(name) {
    const pattern = patterns[name];
    if (!pattern || !context || !player.ready()) return false;
    const now = context.currentTime + 0.01;
    for (const [start, length, pitch] of pattern) {
      const oscillator = context.createOscillator();
      const gain = context.createGain();
      const from = now + start / 1000;
      const to = from + length / 1000;
      oscillator.frequency.value = pitch;
      gain.gain.setValueAtTime(0, from);
      gain.gain.linearRampToValueAtTime(0.25, from + 0.006);
      gain.gain.setValueAtTime(0.25, Math.max(from + 0.007, to - 0.012));
      gain.gain.linearRampToValueAtTime(0, to);
      oscillator.connect(gain).connect(context.destination);
      oscillator.start(from);
      oscillator.stop(to + 0.02);
    }
    return true;
  },

  /** @param {string} words */
  speak(words) {
    if (!("speechSynthesis" in window) || !words) return;
    speechSynthesis.cancel();
    const utterance = new SpeechSynthesisUtterance(words);
    utterance.lang = "en";
    speechSynthesis.speak(utterance);
  },
};
