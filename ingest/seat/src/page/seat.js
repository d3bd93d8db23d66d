// The page for the seat. What comes from the recorder is written as text and never as markup.

import { alarm, sounding, turn, wanted } from "./alarm.js";
import { choices, keep, kept, startsAs } from "./kept.js";
import { connect, wish } from "./live.js";
import { actions, choose, leaveChoice, offered, say } from "./actions.js";
import { showBalance } from "./balance.js";
import { $, write } from "./places.js";
import { watchBars } from "./bars.js";
import { compare, paragraphs, showRuns } from "./runs.js";
import { Past, drawDepth, drawLoad } from "./strip.js";
import { figure, inUnits, learnUnits, symbol, withUnit } from "./units.js";

const root = document.documentElement;
const past = new Past();

let snapshot = null;
let now = null;
let oldFor = null;
let shutOut = false;
let started = null;
let version = null;
let troublesBefore = new Set();
let lostBefore = null;

function clock(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const pad = (n) => String(n).padStart(2, "0");
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h ? `${h}:${pad(m)}:${pad(s)}` : `${m}:${pad(s)}`;
}

function counted(n, one, many) {
  return `${n} ${n === 1 ? one : many}`;
}

// ---- what is shown --------------------------------------------------------------------------------------------------

const PHASES = { listening: "Waiting for the sensor boxes", stands_by: "Ready, not recording", recording: "Recording" };
const MISSED = ["port_away", "no_rows"];

function phaseWords() {
  const { phase, silent_s: silent, troubles } = snapshot;
  if (troubles.some((one) => one.kind === "still_written")) return "Run over, still being written";
  if (phase === "recording" && silent !== null) return `Recording, no readings for ${Math.round(silent)} s`;
  if (phase === "stands_by" && troubles.some((one) => MISSED.includes(one.kind))) return "Not recording, a sensor box is missing";
  return PHASES[phase] ?? phase;
}

function showState() {
  const { phase, run, boxes } = snapshot;
  root.dataset.phase = phase;
  root.dataset.silent = snapshot.silent_s === null ? "no" : "yes";
  write("phase", phaseWords());
  write("clock", run ? clock(run.t_s) : "");
  const here = boxes.filter((one) => !one.away).map((one) => one.name);
  const more = run
    ? [
        `${run.setting}, ${run.share}`,
        // What is lost is told with what is wrong; of what does not come nobody knows yet.
        ...(run.losses.length || snapshot.silent_s !== null ? [] : ["nothing lost"]),
        ...(run.marks ? [counted(run.marks, "mark", "marks")] : []),
      ]
    : here.length ? [here.join(", ")] : [];
  write("state-more", more.join(" · "));
  document.title = run ? `● ${run.setting}` : "hitchwright at the seat";
}

// More would push the figures off the screen.
const MOST_TROUBLES = 2;

function showTroubles() {
  const troubles = snapshot.troubles;
  const place = $("troubles");
  place.hidden = !troubles.length;
  const words = troubles.slice(0, MOST_TROUBLES).map((one) => one.text);
  if (troubles.length > MOST_TROUBLES) words.push(`And ${troubles.length - MOST_TROUBLES} more.`);
  const shown = [...place.children].map((one) => one.textContent);
  if (words.join("\n") !== shown.join("\n")) {
    place.replaceChildren(...paragraphs(words));
  }
  const kinds = new Set(troubles.map((one) => one.kind));
  const fresh = (kind) => kinds.has(kind) && !troublesBefore.has(kind);
  if (["disk_fails", "disk_nearly_full"].some((kind) => kinds.has(kind))) alarm("disk");
  if (["port_away", "no_rows", "no_receiver", "rows_lost"].some(fresh)) alarm("loss");
  const lost = (snapshot.run?.rows_lost ?? 0) + (snapshot.run?.without_readings_ms ?? 0);
  if (lostBefore !== null && lost > lostBefore) alarm("loss");
  [troublesBefore, lostBefore] = [kinds, lost];
}

/** What the load is called on this plow, as the beginning of a line. */
function called(load) {
  const name = load?.name ?? "tail load";
  return name.charAt(0).toUpperCase() + name.slice(1);
}

function showFigures() {
  const { load, depth_target_mm: target } = snapshot;
  write("load-name", called(load));
  const units = { "load-unit": "force", "depth-unit": "depth", "pull-unit": "force", "speed-unit": "speed" };
  for (const [id, kind] of Object.entries(units)) write(id, symbol(kind));
  const depth = now?.depth ?? null;
  const off = depth === null ? null : depth - target;
  const side = off > 0 ? "too deep" : "too shallow";
  // Within a twentieth nobody would turn the crank.
  const how = off === null ? "" : depth < 0 ? "; the plow is above the land" : Math.abs(off) < 0.05 * target ? ", reached" : `: ${withUnit("depth", Math.abs(off))} ${side}`;
  write("depth-target", `Depth wanted ${withUnit("depth", target)}${how}`);
}

function showLatest() {
  if (!now) return;
  write("load-figure", figure("force", now.load));
  write("depth", figure("depth", now.depth));
  write("pull", figure("force", now.pull));
  write("speed", figure("speed", now.speed));
  root.dataset.lifted = now.lifted ? "yes" : "no";
  $("load-state").hidden = !now.lifted;
}

function showLifts() {
  const under = snapshot?.load?.lifted_under_n;
  if (under === undefined || under === null || !past.points.length || snapshot.silent_s !== null) {
    write("lifts", "");
    return;
  }
  const lifts = past.lifts(under);
  const longest = Math.max(0, ...lifts.map(([from, to]) => to - from));
  const words = lifts.length
    ? `Lifted ${counted(lifts.length, "time", "times")} in the last 20 s, longest ${longest < 0.1 ? "under 0.1" : longest.toFixed(1)} s`
    : "Not lifted in the last 20 s";
  write("lifts", words);
  $("strip").setAttribute("aria-label", `${called(snapshot.load)} over the last 20 s. ${words}.`);
}

function showPass() {
  const { last_pass: pass, phase } = snapshot;
  $("last-pass").hidden = !pass || phase === "recording";
  if (!pass) return;
  const told = JSON.stringify([pass, kept("units")]);
  if ($("last-pass").dataset.told === told) return;
  $("last-pass").dataset.told = told;
  write("pass-name", `Last pass: ${pass.run}`);
  write("pass-word", pass.state === "working_out" ? "Working it out …" : pass.headline);
  $("pass-word").dataset.look = pass.look ?? "";
  const compared = paragraphs(inUnits(pass.comparison));
  if (compared.length) {
    const heading = document.createElement("h3");
    heading.textContent = "Against the setting before";
    compared.unshift(heading);
  }
  const failed = pass.state === "failed";
  // Why there is none is all that there is to be told.
  write("pass-why", failed ? inUnits(pass.lines).join(" ") : "");
  $("pass-more").hidden = failed || (!inUnits(pass.lines).length && !compared.length);
  // It is what one came for; whoever has read it closes it.
  $("pass-more").open = true;
  $("pass-lines").replaceChildren(...paragraphs(inUnits(pass.lines)), ...compared);
  const link = document.createElement("a");
  link.href = `/runs/${encodeURIComponent(pass.run)}/page.pdf?units=${kept("units")}`;
  link.textContent = "Page to print";
  $("pass-link").className = "links";
  $("pass-link").replaceChildren(...(pass.state === "ready" ? [link] : []));
}

function noticeItem({ at, run, warning, text }) {
  const li = document.createElement("li");
  const when = document.createElement("span");
  when.className = "when";
  when.textContent = `${[at, run].filter(Boolean).join(" · ")}: `;
  if (warning) li.className = "warning";
  li.append(when, text);
  return li;
}

function showNotices() {
  // What matters most comes first.
  const notices = snapshot.notices.slice(0, 5);
  $("said").hidden = !notices.length;
  const told = JSON.stringify(notices);
  if ($("said").dataset.told === told) return;
  $("said").dataset.told = told;
  $("notices").replaceChildren(...notices.map(noticeItem));
}

function showOld() {
  const old = oldFor !== null || snapshot === null;
  root.dataset.old = old ? "yes" : "no";
  $("lost").hidden = oldFor === null;
  const shut = " This phone is no longer let in: open the link again, or scan the code that the recorder shows.";
  const since = `No connection for ${oldFor} s${snapshot ? ": figures are old" : ""}. Come nearer, or look whether the recorder runs.`;
  if (oldFor !== null) {
    write("lost", shutOut ? since + shut : since);
    // What was so then is not said as if it were so now.
    write("phase", "No connection");
    write("clock", "");
    const run = snapshot?.run;
    write("state-more", run ? `last seen recording ${run.setting}, ${run.share}` : "");
    document.title = "No connection: hitchwright at the seat";
  }
  actions(snapshot, old);
}

// ---- when it is drawn: once for whatever has come since the last picture ------------------------------------------

let waiting = false;
let drawnAt = -Infinity;

function calm() {
  return kept("movement") === "less"
    || (kept("movement") === "auto" && matchMedia("(prefers-reduced-motion: reduce)").matches);
}

function soon() {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(draw);
}

function draw(time) {
  waiting = false;
  showLatest();
  // Less movement: the picture of the last 20 s moves on twice a second; figures and alarms are told at once.
  if (calm() && time - drawnAt < 500 && root.dataset.drawnLifted === root.dataset.lifted) return;
  drawnAt = time;
  root.dataset.drawnLifted = root.dataset.lifted;
  const load = snapshot?.load ?? null;
  const none = snapshot === null || snapshot.phase === "listening" ? "No readings yet." : "No load on a wheel is measured.";
  drawLoad($("strip"), past, load, now?.load ?? null, now?.lifted ?? false, (n) => withUnit("force", n), none);
  const target = snapshot?.depth_target_mm ?? null;
  drawDepth($("depth-strip"), past, target, target === null ? "depth" : `depth wanted ${withUnit("depth", target)}`);
}

// ---- what comes -----------------------------------------------------------------------------------------------------

let factorsKnown = false;

const on = {
  snapshot(one) {
    if (version !== null && one.program.version !== version) location.reload();
    version = one.program.version;
    if (started !== null && one.program.started !== started) {
      past.points = [];
      lostBefore = null;
      say("The recorder was started again.");
    }
    started = one.program.started;
    if (!snapshot) {
      startsAs("units", one.units);
      unitsToChoose();
    }
    snapshot = one;
    if (!factorsKnown) {
      factorsKnown = true;
      learnUnits().then((known) => { factorsKnown = known; });
    }
    if (!now) {
      now = { load: one.tail_load_n, pull: one.pull_n, depth: one.depth_mm, speed: one.speed_mps, lifted: one.lifted };
    }
    showState();
    showTroubles();
    showFigures();
    showBalance(one);
    showLifts();
    showPass();
    showNotices();
    offered(one);
    heard();
  },
  now(one) {
    const lifts = one.lifted && now && !now.lifted;
    now = { load: one.load_n, pull: one.pull_n, depth: one.depth_mm, speed: one.speed_mps, lifted: one.lifted };
    if (lifts && snapshot?.phase === "recording") alarm("lift");
    heard();
  },
  strip(batch) {
    past.add(batch);
    heard();
  },
  notice() {
    heard();
  },
  old(seconds) {
    if (seconds !== oldFor) {
      oldFor = seconds;
      showOld();
    }
  },
  refused(refused) {
    shutOut = refused;
  },
};

function heard() {
  if (oldFor !== null || root.dataset.old !== "no") {
    oldFor = null;
    showOld();
  }
  actions(snapshot, false);
  soon();
}

// ---- what a thumb does ----------------------------------------------------------------------------------------------

function show(part) {
  if (part !== "choose") leaveChoice();
  root.dataset.part = part;
  for (const section of document.querySelectorAll("main > section")) section.hidden = section.id !== part;
  for (const tab of document.querySelectorAll(".tab")) {
    if (tab.dataset.show === part) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  window.scrollTo(0, 0);
  if (part === "runs") showRuns();
  actions(snapshot, oldFor !== null || snapshot === null);
  soon();
}

function showSound() {
  const words = !wanted() ? "Sound is off" : sounding() ? "Sound is on" : "Tap for sound";
  write("mute", words);
  $("mute").setAttribute("aria-pressed", String(wanted()));
  write("try-sound", wanted() ? "Try the sound" : "Turn sound on and try it");
}

function today() {
  return new Date().toDateString();
}

function look() {
  for (const name of ["look", "size", "movement"]) root.dataset[name] = kept(name);
  soon();
}

function chooser(place, name, values) {
  choices($(place), name, values, kept(name), (value) => {
    keep(name, value);
    look();
    if (snapshot) {
      showFigures();
      showPass();
    }
  });
}

function unitsToChoose() {
  chooser("units", "units", [["si", "N, mm, km/h"], ["us", "lbf, in, mph"]]);
}

async function stayAwake() {
  if (!navigator.wakeLock) {
    write("awake", "This browser does not let the page keep the screen on: set the phone's own screen to stay on.");
    return;
  }
  try {
    await navigator.wakeLock.request("screen");
    write("awake", "The screen stays on while this page is shown.");
  } catch {
    write("awake", "The phone does not let the page keep the screen on just now: set its own screen to stay on.");
  }
}

for (const tab of document.querySelectorAll(".tab")) tab.addEventListener("click", () => show(tab.dataset.show));
$("mute").addEventListener("click", async () => {
  // Wanted, but the browser still waits for a tap: this is the tap.
  await turn(!wanted() || !sounding());
  showSound();
});
$("try-sound").addEventListener("click", async () => {
  await turn(true);
  showSound();
  alarm("lift");
});
document.addEventListener("pointerdown", async (event) => {
  if (wanted() && !sounding() && event.target.closest("#mute") === null) {
    await turn(true);
    showSound();
  }
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") stayAwake();
});
new ResizeObserver(soon).observe($("strip"));
watchBars();
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", soon);
$("compare-go").addEventListener("click", compare);
$("safe-read").addEventListener("click", () => {
  keep("cautions", today());
  show("now");
});
choose(show, wish);

chooser("looks", "look", [["auto", "As the phone"], ["sun", "Sunlight"], ["night", "Night"]]);
unitsToChoose();
chooser("sizes", "size", [["usual", "Usual"], ["large", "Large"], ["largest", "Largest"]]);
chooser("movements", "movement", [["auto", "As the phone"], ["less", "Less"]]);
look();
// The cautions are read first, each day anew.
show(kept("cautions") === today() ? "now" : "safe");
showSound();
showOld();
stayAwake();
connect(on);
