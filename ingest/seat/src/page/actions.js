// Start, stop and mark, and what the next run is recorded with: what the recorder holds is shown, never what was only
// picked here.

import { choices } from "./kept.js";
import { $, write } from "./places.js";

const HOLD_MS = 500;
// Start comes where stop and "keep" were: not under the thumb that still lies there.
const START_AFTER_MS = 1000;
// What the recorder took it shows within this long, or something is wrong.
const SHOWN_WITHIN_MS = 5000;

let latest = null;
// What is picked on the sheet of choices and not kept yet; null: the sheet is closed.
let draft = null;
let asking = false;
let ask = null;
let offeredBefore = "";
let coveredAt = -Infinity;
// Why a button can do nothing now, by its id; null: it can.
const refused = {};

const BEGINS = {
  when_in: "Runs begin by themselves when the plow goes into the ground.",
  once_out: "The next run begins once the plow has come out of the ground and goes in again.",
};

// A button that is plainly disabled takes no tap and says nothing: this one says why.
function able(id, why) {
  refused[id] = why;
  const off = String(why !== null);
  if ($(id).getAttribute("aria-disabled") !== off) $(id).setAttribute("aria-disabled", off);
}

/** Whether a button can do nothing now; then it says why. */
function refuses(id) {
  if (refused[id] !== null) say(refused[id]);
  return refused[id] !== null;
}

/** Shows the buttons that do something now. */
export function actions(snapshot, old) {
  latest = snapshot;
  const may = snapshot?.may_control ?? false;
  const recording = snapshot?.phase === "recording";
  const choosing = draft !== null;
  // Elsewhere it has no room for what stands beside it.
  const startable = may && !recording && document.documentElement.dataset.part === "now";
  if (recording || choosing) coveredAt = performance.now();
  const settled = performance.now() - coveredAt > START_AFTER_MS;
  $("looking-on").hidden = snapshot === null || may;
  for (const id of ["back", "chosen"]) $(id).hidden = !may || !choosing;
  for (const id of ["choice", "start", "before-start"]) $(id).hidden = !startable;
  $("confirm").hidden = !startable || !asksForHitch(snapshot);
  for (const id of ["mark", "stop"]) $(id).hidden = !may || !recording;
  const begins = startable ? BEGINS[snapshot.begins] : null;
  write("begins", begins ?? "");
  const busy = snapshot === null || old
    ? "No connection to the recorder: nothing can be asked of it from here now."
    : asking ? "The recorder has not answered yet to what was asked of it before." : null;
  const cannot = snapshot?.cannot ?? {};
  able("start", busy ?? cannot.start ?? (settled ? null : "Another button was here a moment ago: tap once more."));
  able("chosen", busy ?? (draft?.setting ? null : "Pick the hitch setting first."));
  able("mark", busy ?? cannot.mark ?? null);
  able("stop", busy ?? cannot.stop ?? null);
  able("confirm", busy);
}

function asksForHitch({ troubles }) {
  return troubles.some((one) => one.kind === "unconfirmed");
}

/** Takes in which settings and shares there are to choose from, and what the recorder holds. */
export function offered(snapshot) {
  const { settings, holes, shares, choice } = snapshot;
  latest = snapshot;
  write("choice-setting", choice.setting ?? "No setting");
  write("choice-share", choice.setting ? `${choice.share} · change` : "choose");
  write("confirm", `Yes: ${choice.setting}, ${choice.share} shares`);
  write("choice-now", choice.setting
    ? `The recorder has: ${choice.setting}, ${choice.share} shares.`
    : "No setting is chosen yet: choose the one that the pins are in.");
  const told = JSON.stringify([settings, holes, shares, draft]);
  if (draft === null || told === offeredBefore) return;
  offeredBefore = told;
  const named = settings.map((name, number) => [name, name, holes[number]]);
  const pick = (what) => (value) => {
    draft[what] = value;
    offeredBefore = JSON.stringify([settings, holes, shares, draft]);
  };
  choices($("settings"), "setting", named, draft.setting, pick("setting"));
  choices($("shares"), "share", shares.map((value) => [value, value]), draft.share, pick("share"));
}

function open(show) {
  const { choice, settings } = latest;
  draft = { setting: choice.setting ?? (settings.length === 1 ? settings[0] : null), share: choice.share };
  for (const id of ["field", "note"]) $(id).value = choice[id] ?? "";
  offered(latest);
  show("choose");
}

/** The sheet of choices is left, by whichever way. */
export function leaveChoice() {
  draft = null;
  offeredBefore = "";
}

/**
 * Asks the recorder for something and writes what it answers. The buttons wait until `shown` says that it is seen on the page.
 * Gives whether it was done.
 */
async function asked(words, body, shown) {
  asking = true;
  $("asked").textContent = words;
  const { done, told } = await ask(body);
  $("asked").textContent = told;
  const until = performance.now() + SHOWN_WITHIN_MS;
  while (done !== false && !shown() && performance.now() < until) {
    await new Promise((go) => { setTimeout(go, 50); });
  }
  asking = false;
  // Done is soon plain to see; why not is read more slowly.
  say(told, done ? 6000 : 15000);
  return done === true;
}

/** Says something beside the buttons for a while; then the figures have the room again. */
export function say(words, time = 15000) {
  $("asked").textContent = words;
  setTimeout(() => {
    if ($("asked").textContent === words) $("asked").textContent = "";
  }, time);
}

async function keepChoice(show) {
  const { setting, share } = draft;
  const body = { wish: "choose", setting, field: $("field").value.trim(), note: $("note").value.trim() };
  if (share) body.share = share;
  const isHeld = () => latest.choice.setting === setting && (!share || latest.choice.share === share);
  if (await asked("Keeping …", body, isHeld) && draft !== null) show("now");
}

// What stands on the button is what the run is recorded with, even if somebody chooses otherwise at this moment.
function start() {
  const { setting, share } = latest.choice;
  asked("Starting …", { wish: "start", setting, share }, () => latest.run !== null);
}

function stop() {
  return asked("Stopping …", { wish: "stop" }, () => latest.run === null);
}

function mark() {
  const before = latest.run?.marks ?? 0;
  asked("Marking …", { wish: "mark" }, () => (latest.run?.marks ?? 0) > before);
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
    if (since !== null) say("Not stopped: hold the button for half a second.", 6000);
    since = null;
    progress(0);
  };
  const step = (time) => {
    if (since === null) return progress(0);
    if (refused[button.id] !== null) return end();
    since = since || time;
    const part = Math.min(1, (time - since) / HOLD_MS);
    progress(Math.max(part, 0.02));
    if (part < 1) return requestAnimationFrame(step);
    since = null;
    progress(0);
    return stop();
  };
  const begin = () => {
    if (since !== null || refuses(button.id)) return;
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
  $("choice").addEventListener("click", () => { if (latest) open(show); });
  $("back").addEventListener("click", () => show("now"));
  $("chosen").addEventListener("click", () => { if (!refuses("chosen")) keepChoice(show); });
  let pressed = null;
  document.addEventListener("pointerdown", (event) => { pressed = event.target; }, true);
  $("start").addEventListener("click", (event) => {
    // A thumb that was put down elsewhere and comes up here meant something else; a key has no place (detail 0).
    if (event.detail !== 0 && pressed !== event.currentTarget) return;
    if (refuses("start")) return;
    // A run without its setting could not be judged.
    if (!latest.choice.setting) {
      open(show);
      return;
    }
    show("now");
    start();
  });
  $("mark").addEventListener("click", () => { if (!refuses("mark")) mark(); });
  $("confirm").addEventListener("click", () => {
    if (refuses("confirm")) return;
    const { setting, share } = latest.choice;
    asked("Keeping …", { wish: "choose", setting, share }, () => !asksForHitch(latest));
  });
  holdToStop($("stop"));
}
