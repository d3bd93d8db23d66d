// The runs that the recorder has kept: their pages and files, and one setting held against another.

const $ = (id) => document.getElementById(id);

function made(name, words, more = {}) {
  const one = document.createElement(name);
  one.textContent = words;
  return Object.assign(one, more);
}

/** Lines of plain text as paragraphs; a list of lists has a heading each. */
export function paragraphs(lines) {
  return (lines ?? []).map((words) => made("p", words));
}

const FILES = [
  ["page.pdf", "Page to print"],
  ["page.png", "Page as picture"],
  ["plow.csv", "Readings (CSV)"],
  ["events.csv", "Events (CSV)"],
];

function item(run) {
  const li = document.createElement("li");
  const about = [run.setting, run.share && `${run.share} shares`, run.when, run.verdict].filter(Boolean).join(" · ");
  const links = document.createElement("p");
  links.className = "links";
  for (const [file, words] of FILES) {
    if (run.files && !run.files.includes(file)) continue;
    links.append(made("a", words, { href: `/runs/${encodeURIComponent(run.name)}/${file}` }));
  }
  li.append(made("h2", run.name), made("p", about), links);
  return li;
}

/** Asks for the runs and shows them. */
export async function showRuns() {
  let runs;
  try {
    const answer = await fetch("/runs", { cache: "no-store" });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 300));
    runs = await answer.json();
  } catch (error) {
    $("runs-words").textContent = `The list of runs cannot be read now. ${error.message}`;
    return;
  }
  runs = Array.isArray(runs) ? runs : runs.runs;
  $("runs-words").textContent = runs.length ? "" : "No run has been recorded yet.";
  $("run-list").replaceChildren(...runs.map(item));
  const settings = [...new Set(runs.map((run) => run.setting).filter(Boolean))];
  $("compare").hidden = settings.length < 2;
  for (const id of ["compare-a", "compare-b"]) {
    const before = $(id).value;
    $(id).replaceChildren(...settings.map((name) => made("option", name, { value: name })));
    $(id).value = settings.includes(before) ? before : settings[id === "compare-a" ? 1 : 0] ?? "";
  }
}

/** Holds one setting against another and shows what is said of them. */
export async function compare() {
  const asked = new URLSearchParams({ a: $("compare-a").value, b: $("compare-b").value });
  $("compared").replaceChildren(made("p", "Working it out …"));
  try {
    const answer = await fetch(`/compare?${asked}`, { cache: "no-store" });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 300));
    $("compared").replaceChildren(...paragraphs((await answer.json()).lines));
  } catch (error) {
    $("compared").replaceChildren(made("p", `They cannot be compared. ${error.message}`));
  }
}
