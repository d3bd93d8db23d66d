// Figures in the units of whoever reads them. The factors are the recorder's own (`/units`).

import { kept } from "./kept.js";

let factors = null;

/** Fetches the factors; until they are here, figures stand in SI. */
export async function learnUnits() {
  try {
    const answer = await fetch("/units");
    if (answer.ok) factors = await answer.json();
  } catch {
    // Without a line there are no figures either; the next snapshot asks again.
  }
  return factors !== null;
}

const PLAIN = {
  force: { symbol: "N", one: 1, decimals: 0 },
  depth: { symbol: "mm", one: 1, decimals: 0 },
  speed: { symbol: "m/s", one: 1, decimals: 1 },
};

function unit(kind) {
  return factors?.[kept("units")]?.[kind] ?? PLAIN[kind];
}

/** The symbol of `force`, `depth` or `speed`. */
export function symbol(kind) {
  return unit(kind).symbol;
}

/** A figure without its unit; a dash where there is none. Forces from a thousand on go to ten: none is known better. */
export function figure(kind, si) {
  if (si === null || si === undefined) return "–";
  const { one, decimals } = unit(kind);
  const value = si / one;
  const step = kind === "force" && Math.abs(value) >= 999.5 ? 10 : 1;
  // Adding 0 turns a negative zero into a plain one.
  return (Math.round((value / step) * 10 ** decimals) / 10 ** decimals * step + 0).toFixed(decimals);
}

export function withUnit(kind, si) {
  return `${figure(kind, si)} ${symbol(kind)}`;
}

/** What the recorder tells in both units, in those of the reader. */
export function inUnits(told) {
  return told?.[kept("units")] ?? [];
}
