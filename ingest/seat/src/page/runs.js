// The runs that the recorder has kept: their pages and files, and one setting held against another.

import { kept } from "./kept.js";
import { $ } from "./places.js";

function made(name, words, more = {}) {
  const one = document.createElement(name);
  one.textContent = words;
  return Object.assign(one, more);
}

/** Lines of plain text as paragraphs. */
export function paragraphs(lines) {
  return (lines ?? []).map((words) => made("p", words));
}

const FILES = {
  "page.pdf": "Page to print",
  "page.png": "Page as picture",
  "plow.csv": "Readings (CSV)",
  "gnss.csv": "Places (CSV)",
  "events.csv": "Events (CSV)",
};

// A page is worked out when it is asked for, and the browser shows nothing of that.
const MADE_WITHIN_MS = 60000;
function beingMade(link) {
  const words = link.textContent;
  link.textContent = `${words}: being made …`;
  const again = () => { link.textContent = words; };
  setTimeout(again, MADE_WITHIN_MS);
  window.addEventListener("pageshow", again, { once: true });
}

async function showVerdict(name, place, button) {
  button.disabled = true;
  place.replaceChildren(made("p", "Working it out …", { role: "status" }));
  try {
    const answer = await fetch(`/runs/${encodeURIComponent(name)}?units=${kept("units")}`, { cache: "no-store" });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 300));
    const { headline, lines, why } = await answer.json();
    const said = headline ? [made("p", headline, { className: "verdict" }), ...paragraphs(lines)] : [made("p", why)];
    place.replaceChildren(...said);
  } catch (error) {
    place.replaceChildren(made("p", `The verdict cannot be had now: ${error.message}`));
  }
  button.disabled = false;
}

function item(run) {
  const li = document.createElement("li");
  const about = [run.when, run.setting, run.share && `${run.share} shares`, run.field, run.plow, run.note];
  const links = document.createElement("p");
  links.className = "links";
  for (const file of run.files) {
    const href = `/runs/${encodeURIComponent(run.name)}/${encodeURIComponent(file)}?units=${kept("units")}`;
    const link = made("a", FILES[file] ?? file, { href });
    if (file.startsWith("page.")) link.addEventListener("click", () => beingMade(link));
    links.append(link);
  }
  li.append(made("h2", run.name), made("p", about.filter(Boolean).join(" · ")));
  if (run.recording) li.append(made("p", "Being recorded now."));
  const told = made("div", "");
  if (run.verdict) told.append(made("p", run.verdict, { className: "verdict" }));
  if (run.no_verdict) told.append(made("p", "No verdict.", { className: "verdict" }), made("p", run.no_verdict));
  if (run.trouble) li.append(made("p", run.trouble));
  li.append(told);
  if (run.files.includes("page.pdf")) {
    const more = made("button", "Verdict and move", { type: "button" });
    more.addEventListener("click", () => showVerdict(run.name, told, more));
    links.prepend(more);
  }
  li.append(links);
  return li;
}

/** Asks for the runs and shows them. */
export async function showRuns() {
  let runs;
  let more;
  try {
    const answer = await fetch("/runs", { cache: "no-store" });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 300));
    ({ runs, more } = await answer.json());
  } catch (error) {
    $("runs-words").textContent = `The list of runs cannot be read now. ${error.message}`;
    return;
  }
  const older = more ? `The newest ${runs.length}; ${more} older ones are on the recorder's disk.` : "";
  $("runs-words").textContent = runs.length ? older : "No run has been recorded yet.";
  $("run-list").replaceChildren(...runs.map(item));
  const settings = [...new Set(runs.map((run) => run.setting).filter(Boolean))];
  $("compare").hidden = settings.length < 2;
  for (const id of ["compare-a", "compare-b"]) {
    const before = $(id).value;
    $(id).replaceChildren(...settings.map((name) => made("option", name, { value: name })));
    $(id).value = settings.includes(before) ? before : settings[id === "compare-a" ? 1 : 0] ?? "";
  }
  const first = $("compare-a").value;
  if (first === $("compare-b").value) $("compare-b").value = settings.find((name) => name !== first) ?? first;
}

/** Holds one setting against another and shows what is said of them. */
export async function compare() {
  if ($("compare-a").value === $("compare-b").value) {
    $("compared").replaceChildren(made("p", "Choose two different settings."));
    return;
  }
  const asked = new URLSearchParams({ a: $("compare-a").value, b: $("compare-b").value, units: kept("units") });
  $("compared").replaceChildren(made("p", "Working it out …"));
  try {
    const answer = await fetch(`/compare?${asked}`, { cache: "no-store" });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 300));
    const told = await answer.json();
    const links = made("p", "", { className: "links" });
    links.append(made("a", "Page to print", { href: `/compare/page.pdf?${asked}` }));
    const headline = made("p", told.headline, { className: "verdict" });
    const lines = told.lines.filter((line) => line !== told.headline);
    $("compared").replaceChildren(headline, ...paragraphs(lines), links);
  } catch (error) {
    $("compared").replaceChildren(made("p", `They cannot be compared: ${error.message}`));
  }
}
