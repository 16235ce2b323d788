/** A text in both unit systems. */
interface Both {
  mm: string;
  inch: string;
}

/** How a moving part stands to where it must come to rest. */
interface Stand {
  moving?: boolean;
  y: number;
  off?: "up" | "down";
  side: "before" | "in" | "past";
  near: number;
  to: Both;
  way?: "up" | "down";
  go?: string;
  now: Both;
  note: Both;
}

/** The newest value of one gauge. */
interface LiveItem {
  g: string;
  v: Both;
  raw?: boolean;
  open: boolean;
  fault?: string;
  still?: boolean;
  sweep?: number;
  here?: boolean;
  title?: string;
  self?: boolean;
  stand?: Stand;
  /** What the hand does now, where a wheel is read by eye. */
  hand?: string;
  /** When it was sent, ms since 1970 by the clock of the service. */
  at?: number;
  /** When it came, by the page's clock. */
  t: number;
}

/** What the bench answers to a verb. */
interface Answer {
  ok: boolean;
  words: string;
  /** A question that must be answered first, and the unit that it is about. */
  ask?: string;
  unit?: string;
}

interface Window {
  webkitAudioContext?: typeof AudioContext;
}
