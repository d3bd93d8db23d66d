// The one line to the recorder: comes back by itself, and says how old the figures are.

// The recorder speaks ten times a second; after this long without a word, what is shown is old.
const OLD_AFTER_MS = 1500;
const TRY_AGAIN_MS = 2000;

/**
 * Keeps a line to the recorder. `on.snapshot`, `on.now`, `on.strip`, `on.notice` get what it says; `on.old` gets how
 * many seconds ago the last word came (null: just now) each quarter of a second; `on.refused` is called when
 * the recorder does not let this viewer in (any more).
 */
export function connect(on) {
  let source = null;
  let heard = performance.now();
  let tried = -Infinity;

  const open = () => {
    tried = performance.now();
    source?.close();
    source = new EventSource("/live");
    for (const name of ["snapshot", "now", "strip", "notice"]) {
      source.addEventListener(name, (event) => {
        heard = performance.now();
        on[name](JSON.parse(event.data));
      });
    }
    source.addEventListener("error", askWhy);
  };

  // An EventSource does not say why it failed, a plain request does.
  const askWhy = async () => {
    try {
      const answer = await fetch("/units", { cache: "no-store" });
      on.refused(answer.status === 401 || answer.status === 403);
    } catch {
      on.refused(false);
    }
  };

  const look = () => {
    const now = performance.now();
    const silent = now - heard;
    on.old(silent > OLD_AFTER_MS ? Math.round(silent / 1000) : null);
    // A line that was cut without a word (a phone out of reach) stays open for minutes unless it is thrown away.
    if (silent > OLD_AFTER_MS && now - tried > TRY_AGAIN_MS) open();
  };

  open();
  setInterval(look, 250);
  document.addEventListener("visibilitychange", look);
}

/**
 * Asks the recorder for something, which answers when it is done or cannot be. Gives `done`, null while neither is known,
 * and `told`, the sentence that it answers.
 */
export async function wish(body) {
  try {
    const answer = await fetch("/wish", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
    const told = (await answer.text()).slice(0, 400);
    if (answer.ok) return { done: answer.status === 200 ? true : null, told };
    return { done: false, told: told || `The recorder did not take it (${answer.status}).` };
  } catch {
    return { done: false, told: "The recorder does not answer: look whether it still runs." };
  }
}
