// The balance of the last seconds, on a scale between too steep and too flat.

import { $, write } from "./places.js";

// Between the words stands what the recorder counts as balanced and as leaning.
function bands({ balanced, leaning }) {
  const band = (id, from, to) => {
    Object.assign($(id).style, { left: `${from * 100}%`, width: `${(to - from) * 100}%` });
  };
  band("far-steep", 0, place(-leaning));
  band("middle", place(-balanced), place(balanced));
  band("far-flat", place(leaning), 1);
}

// The scale goes a little beyond its ends, where a wheel is off the ground.
const END = 1.2;
function place(b) {
  return (Math.min(Math.max(b, -END), END) + END) / (2 * END);
}

/** Shows the balance of the last seconds, or why it is not shown. */
export function showBalance({ balance, phase, limits }) {
  const shown = balance?.state === "shown";
  $("balance").hidden = !balance && phase !== "recording";
  // Where the soil lifts the plow, the index is no guide to the hitch.
  $("scale").hidden = !shown || balance.soil_lifts;
  $("balance-words").classList.toggle("why", !shown);
  write("balance-over", shown ? `of ${Math.round(balance.over_s)} s` : "of the last 20 s");
  if (!shown) {
    write("balance-index", "");
    write("balance-chances", "");
    write("balance-words", balance ? `Not shown: ${balance.why}` : "Not shown yet.");
    return;
  }
  const signed = (b) => `${b < 0 ? "−" : "+"}${Math.abs(b).toFixed(2)}`;
  write("balance-words", balance.word);
  const { chances } = balance;
  write("balance-chances", chances.length > 1 ? `Chances: ${chances.join(", ")}` : "");
  write("balance-index", `${signed(balance.b)} (${signed(balance.low)} to ${signed(balance.high)})`);
  bands(limits);
  $("pointer").style.left = `${place(balance.b) * 100}%`;
  $("interval").style.left = `${place(balance.low) * 100}%`;
  $("interval").style.right = `${(1 - place(balance.high)) * 100}%`;
}
