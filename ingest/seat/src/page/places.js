// The places of the page, by their ids.

export const $ = (id) => document.getElementById(id);

/** Writes only what has changed: a screen reader, and the page's work, are spared the rest. */
export function write(id, words) {
  const place = $(id);
  if (place.textContent !== words) place.textContent = words;
}
