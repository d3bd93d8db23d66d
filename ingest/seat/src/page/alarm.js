// Sound and shaking: on a lifted tail, on lost readings, on a disk that fills up. Each has its own pattern.

import { keep, kept } from "./kept.js";

// Pitch in Hz, beginning and length in s of each tone; how the phone shakes, in ms; how soon it may come again, in ms.
const PATTERNS = {
  lift: { tones: [[880, 0, 0.12], [1320, 0.14, 0.18]], shake: [180], again: 900 },
  loss: { tones: [[440, 0, 0.16], [440, 0.24, 0.16], [440, 0.48, 0.16]], shake: [120, 80, 120, 80, 120], again: 4000 },
  disk: { tones: [[294, 0, 0.5], [220, 0.55, 0.7]], shake: [600], again: 10000 },
};

let context = null;
const last = {};

/** Whether it is to sound, and can: a browser wants one tap on the page before. */
export function sounding() {
  return kept("sound") === "on" && context?.state === "running";
}

export function wanted() {
  return kept("sound") === "on";
}

/** To be called from a tap. */
export async function turn(on) {
  keep("sound", on ? "on" : "off");
  if (!on) {
    navigator.vibrate?.(0);
    return;
  }
  context ??= new AudioContext();
  await context.resume();
}

/** Sounds one of `lift`, `loss`, `disk`, if it may. */
export function alarm(kind) {
  const { tones, shake, again } = PATTERNS[kind];
  const now = performance.now();
  if (!wanted() || now - (last[kind] ?? -Infinity) < again) return;
  last[kind] = now;
  navigator.vibrate?.(shake);
  if (!sounding()) return;
  for (const [pitch, begins, lasts] of tones) {
    const at = context.currentTime + begins;
    const tone = new OscillatorNode(context, { type: "square", frequency: pitch });
    const loud = new GainNode(context, { gain: 0 });
    // A tone that begins and ends at once cracks.
    loud.gain.setValueAtTime(0, at);
    loud.gain.linearRampToValueAtTime(0.35, at + 0.01);
    loud.gain.setValueAtTime(0.35, at + lasts - 0.02);
    loud.gain.linearRampToValueAtTime(0, at + lasts);
    tone.connect(loud).connect(context.destination);
    tone.start(at);
    tone.stop(at + lasts);
  }
}
