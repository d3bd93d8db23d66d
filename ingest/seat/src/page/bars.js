// The bars above and below: they stay in sight while the figures between them have room.

// Of the screen's height, all that stays in sight.
const MOST = 0.7;

/** Has the bars move with the page wherever they would take too much of the screen. */
export function watchBars() {
  const parts = [document.querySelector("header"), ...document.querySelector("footer").children];
  const look = () => {
    const high = parts.reduce((sum, part) => sum + part.offsetHeight, 0);
    document.documentElement.dataset.bars = high > MOST * window.innerHeight ? "move" : "stay";
  };
  const watch = new ResizeObserver(look);
  for (const part of parts) watch.observe(part);
  window.addEventListener("resize", look);
}
