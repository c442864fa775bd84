// @ts-check
// Tones that can be told apart in a noisy shop, by pitch and by rhythm both: who hears only one still knows.
// Square and triangle waves, as their overtones come through where a pure tone drowns.

import { get } from "./settings.js";

/**
 * A note: pitch in Hz, when it begins and how long it lasts, in seconds.
 * @typedef {[hz: number, at: number, lasts: number]} Note
 */

/** Number of notes of one pitch, a period apart. @returns {Note[]} */
const pulses = (/** @type {number} */ number, /** @type {number} */ hz, /** @type {number} */ period, /** @type {number} */ lasts) =>
  Array.from({ length: number }, (_, n) => [hz, n * period, lasts]);

/**
 * mark: one short tick, high. turn: two that rise. stop: three long ones, low. warning: high and low by turns,
 * slowly. over: a fast rattle, highest, then one that falls away.
 * @type {Record<"mark" | "turn" | "stop" | "warning" | "over", {wave: OscillatorType, notes: Note[]}>}
 */
export const TONES = {
  mark: { wave: "triangle", notes: [[1568, 0, 0.09]] },
  turn: { wave: "triangle", notes: [[784, 0, 0.16], [1175, 0.18, 0.34]] },
  stop: { wave: "square", notes: pulses(3, 392, 0.5, 0.4) },
  warning: { wave: "square", notes: [[988, 0, 0.22], [659, 0.25, 0.22], [988, 0.5, 0.22], [659, 0.75, 0.22]] },
  over: { wave: "square", notes: [...pulses(8, 1976, 0.09, 0.05), [247, 0.8, 0.7]] },
};

/** Loudness of a tone, of 1; square waves are loud by themselves. */
const GAIN = { triangle: 0.7, square: 0.3, sine: 0.8, sawtooth: 0.3, custom: 0.3 };
/** Seconds in which a note swells and fades: without it clicks. */
const EDGE_S = 0.01;

/**
 * A browser lets no page sound before it was touched once: isWaiting says so, onState tells of a change.
 * @param {() => AudioContext} [makeContext]
 */
export function createSound(makeContext = () => new AudioContext()) {
  /** @type {AudioContext | null} */
  let context = null;
  let isBroken = false;
  /** @type {(() => void)[]} */
  const listeners = [];
  const tell = () => listeners.forEach((listener) => listener());

  function ready() {
    if (context === null && !isBroken) {
      try {
        context = makeContext();
        context.onstatechange = tell;
      } catch {
        isBroken = true; // no sound on this device
      }
    }
    return context;
  }

  function wake() {
    const ctx = ready();
    if (ctx !== null && ctx.state !== "running") ctx.resume().then(tell, () => {});
  }
  for (const gesture of ["pointerdown", "keydown"]) addEventListener(gesture, wake);

  return {
    wake,
    /** Whether it is on, and may not sound before somebody touches the page. */
    isWaiting: () => get().sound && !isBroken && ready()?.state !== "running",
    /** @param {() => void} listener */
    onState: (listener) => listeners.push(listener),
    /** @param {keyof typeof TONES} name */
    play(name) {
      const ctx = ready();
      // Nothing is kept for later: a tone that comes late is a lie.
      if (!get().sound || ctx === null || ctx.state !== "running") return;
      const { wave, notes } = TONES[name];
      for (const [hz, at, lasts] of notes) note(ctx, wave, hz, ctx.currentTime + at, lasts);
    },
  };
}

/**
 * @param {AudioContext} ctx
 * @param {OscillatorType} wave
 * @param {number} hz
 * @param {number} at
 * @param {number} lasts
 */
function note(ctx, wave, hz, at, lasts) {
  const tone = ctx.createOscillator();
  const loud = ctx.createGain();
  tone.type = wave;
  tone.frequency.value = hz;
  loud.gain.setValueAtTime(0, at);
  loud.gain.linearRampToValueAtTime(GAIN[wave], at + EDGE_S);
  loud.gain.setValueAtTime(GAIN[wave], at + lasts - EDGE_S);
  loud.gain.linearRampToValueAtTime(0, at + lasts);
  tone.connect(loud).connect(ctx.destination);
  tone.start(at);
  tone.stop(at + lasts);
}
