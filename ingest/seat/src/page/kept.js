// What this phone keeps: how the page looks, in which units, whether it sounds.

const STARTS_AS = { look: "auto", units: "si", size: "usual", movement: "auto", sound: "off" };

export function kept(name) {
  try {
    return localStorage.getItem(name) ?? STARTS_AS[name];
  } catch {
    return STARTS_AS[name];
  }
}

export function keep(name, value) {
  try {
    localStorage.setItem(name, value);
  } catch {
    // A browser that keeps nothing shows it all the same, until it is closed.
  }
}

/** Says what holds where this phone keeps nothing. */
export function startsAs(name, value) {
  STARTS_AS[name] = value;
}

/** Fills `place` with one radio button for each `[value, words, more]`; `taken` gets the chosen value. */
export function choices(place, name, values, chosen, taken) {
  place.replaceChildren(
    ...values.map(([value, words, more]) => {
      const label = document.createElement("label");
      label.className = "choice";
      const input = document.createElement("input");
      Object.assign(input, { type: "radio", name, value, checked: value === chosen });
      input.addEventListener("change", () => taken(value));
      const shown = document.createElement("span");
      shown.textContent = words;
      if (more) {
        const small = document.createElement("small");
        small.textContent = more;
        shown.append(small);
      }
      label.append(input, shown);
      return label;
    }),
  );
}
