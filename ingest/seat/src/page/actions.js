// Start, stop and mark, and what the next run is recorded with.

import { choices } from "./kept.js";
import { $ } from "./places.js";

const HOLD_MS = 500;
// Start comes where stop was: not under the thumb that still lies there.
const START_AFTER_MS = 1000;

// What this viewer chose; null: as the recorder has it.
let picked = { setting: null, share: null };
let asking = false;
let ask = null;
let offeredBefore = "";
let current = { setting: null, share: null };
let recordedAt = -Infinity;

/** Shows the buttons that do something now. */
export function actions(snapshot, old) {
  const may = snapshot?.may_control ?? false;
  const recording = snapshot?.phase === "recording";
  if (recording) recordedAt = performance.now();
  const settled = performance.now() - recordedAt > START_AFTER_MS;
  $("looking-on").hidden = snapshot === null || may;
  for (const id of ["choice", "start"]) $(id).hidden = !may || recording;
  for (const id of ["mark", "stop"]) $(id).hidden = !may || !recording;
  const ready = may && !old && !asking;
  $("start").disabled = !ready || !settled || snapshot.phase !== "stands_by";
  $("mark").disabled = !ready;
  $("stop").disabled = !ready;
  $("choice").disabled = !may;
}

/** Takes in which settings and shares there are to choose from. */
export function offered({ settings, shares, choice }) {
  const only = settings.length === 1 ? settings[0] : null;
  current = { setting: picked.setting ?? choice?.setting ?? only, share: picked.share ?? choice?.share ?? null };
  $("choice-setting").textContent = current.setting ?? "No setting";
  $("choice-share").textContent = current.share ? `${current.share} · change` : "choose";
  const told = JSON.stringify([settings, shares, current]);
  if (told === offeredBefore) return;
  offeredBefore = told;
  const named = (values) => values.map((value) => [value, value]);
  choices($("settings"), "setting", named(settings), current.setting, (value) => { picked.setting = value; });
  choices($("shares"), "share", named(shares), current.share, (value) => { picked.share = value; });
}

async function asked(words, body, done) {
  asking = true;
  $("asked").textContent = words;
  const refused = await ask(body);
  asking = false;
  const told = refused || done;
  $("asked").textContent = told;
  // Done is soon plain to see; why not is read more slowly. Then the figures have the room again.
  setTimeout(() => {
    if ($("asked").textContent === told) $("asked").textContent = "";
  }, refused ? 15000 : 4000);
}

function start() {
  const typed = (id) => $(id).value.trim() || null;
  const body = { wish: "start", ...current, field: typed("field"), note: typed("note") };
  const told = Object.fromEntries(Object.entries(body).filter(([, value]) => value !== null));
  asked("Starting …", told, "Started.");
}

// A jolt is short: stop wants the thumb (or the key) to stay.
function holdToStop(button) {
  let since = null;
  const progress = (part) => {
    $("held").style.transform = `scaleX(${part})`;
    button.toggleAttribute("data-held", part > 0);
    $("stop-words").textContent = part > 0 ? "Keep holding" : "Hold to stop";
  };
  const end = () => {
    since = null;
    progress(0);
  };
  const step = (time) => {
    if (since === null || button.disabled) return end();
    since = since || time;
    const part = Math.min(1, (time - since) / HOLD_MS);
    progress(Math.max(part, 0.02));
    if (part < 1) return requestAnimationFrame(step);
    end();
    return asked("Stopping …", { wish: "stop" }, "Stopped.");
  };
  const begin = () => {
    if (since !== null || button.disabled) return;
    since = 0;
    requestAnimationFrame(step);
  };
  const pressing = (event) => event.key === " " || event.key === "Enter";
  button.addEventListener("pointerdown", begin);
  for (const name of ["pointerup", "pointerleave", "pointercancel", "blur"]) button.addEventListener(name, end);
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  button.addEventListener("keydown", (event) => {
    if (!pressing(event)) return;
    event.preventDefault();
    if (!event.repeat) begin();
  });
  button.addEventListener("keyup", (event) => {
    if (pressing(event)) end();
  });
}

/** Ties the buttons to what they do. */
export function choose(show, wish) {
  ask = wish;
  $("choice").addEventListener("click", () => show("choose"));
  $("chosen").addEventListener("click", () => show("now"));
  let pressed = null;
  document.addEventListener("pointerdown", (event) => { pressed = event.target; }, true);
  $("start").addEventListener("click", (event) => {
    // A thumb that was put down elsewhere and comes up here meant something else; a key has no place (detail 0).
    if (event.detail !== 0 && pressed !== event.currentTarget) return;
    // A run without its setting could not be judged.
    if (current.setting === null) {
      show("choose");
      $("asked").textContent = "Choose the hitch setting first.";
      return;
    }
    show("now");
    start();
  });
  $("mark").addEventListener("click", () => asked("Marking …", { wish: "mark" }, "Mark set."));
  holdToStop($("stop"));
}
