// The bar of the load and, before it, the last 20 s: one picture with one scale, so that the newest end of the strip
// meets the top of the bar. What counts as lifted is a hatched floor below both, with its word.

const SPAN_S = 20;
// The floor reaches this many letters below no load at all, so that its hatch and its word have room: the load above
// is to scale. As many are left above it for the time.
const FLOOR_LETTERS = 1.6;
const TOP_LETTERS = 1.1;
const ONE_LIFT_S = 0.15;
// Points further apart than this, and than a few of the usual steps, have a gap between them.
const GAP_S = 0.5;
const GAP_STEPS = 4;

/** Points `[t_s, load_n, depth_mm]` of the last 20 s, the newest last. */
export class Past {
  points = [];

  add(points) {
    for (const point of points) {
      // Time that goes back is another recorder's, or the same one started again.
      if (this.points.length && point[0] < this.points.at(-1)[0] - 1) this.points = [];
      this.points.push(point);
    }
    const from = (this.points.at(-1)?.[0] ?? 0) - SPAN_S;
    const first = this.points.findIndex(([t]) => t >= from);
    if (first > 0) this.points.splice(0, first);
  }

  /** Stretches `[from, to]` in s with a load under the limit; what is hardly apart is one lift that trembles. */
  lifts(under) {
    const found = [];
    for (const [t, load] of this.points) {
      if (load === null || load >= under) continue;
      const last = found.at(-1);
      if (last && t - last[1] < ONE_LIFT_S) last[1] = t;
      else found.push([t, t]);
    }
    return found;
  }
}

/** A canvas made as sharp as the screen; null while it has no size. */
function sheet(canvas) {
  const { clientWidth: width, clientHeight: height } = canvas;
  if (!width || !height) return null;
  const dots = window.devicePixelRatio || 1;
  const [w, h] = [Math.round(width * dots), Math.round(height * dots)];
  if (canvas.width !== w || canvas.height !== h) Object.assign(canvas, { width: w, height: h });
  const pen = canvas.getContext("2d");
  pen.setTransform(dots, 0, 0, dots, 0, 0);
  pen.clearRect(0, 0, width, height);
  const style = getComputedStyle(canvas);
  const color = (name) => style.getPropertyValue(`--${name}`).trim();
  const letters = parseFloat(style.fontSize);
  const font = (weight, size) => {
    pen.font = `${weight} ${Math.round(letters * size)}px ${style.fontFamily}`;
  };
  return { pen, width, height, color, font, letters };
}

function hatch(pen, x, y, w, h, color) {
  pen.save();
  pen.beginPath();
  pen.rect(x, y, w, h);
  pen.clip();
  pen.strokeStyle = color;
  pen.lineWidth = 2;
  pen.beginPath();
  for (let at = x - h; at < x + w; at += 9) {
    pen.moveTo(at, y + h);
    pen.lineTo(at + h, y);
  }
  pen.stroke();
  pen.restore();
}

/** Letters on a piece of paper of their own, so that no line runs through them. */
function lettered(pen, words, x, y, ink, paper) {
  const wide = pen.measureText(words).width;
  const left = pen.textAlign === "center" ? x - wide / 2 : pen.textAlign === "right" ? x - wide : x;
  const high = parseFloat(pen.font.match(/(\d+)px/)?.[1] ?? "16");
  pen.fillStyle = paper;
  pen.fillRect(left - 3, y - high * 0.62, wide + 6, high * 1.24);
  pen.fillStyle = ink;
  pen.fillText(words, x, y + 1);
}

// Between readings that are not there, no line says what they were.
function line(pen, points, x, y) {
  const steps = points.slice(1).map(([t], number) => t - points[number][0]).sort((one, other) => one - other);
  const gap = Math.max(GAP_S, GAP_STEPS * (steps[Math.floor(steps.length / 2)] ?? 0));
  pen.beginPath();
  let last = null;
  for (const [t, value] of points) {
    if (value !== null && last !== null && t - last <= gap) pen.lineTo(x(t), y(value));
    else if (value !== null) pen.moveTo(x(t), y(value));
    last = value === null ? null : t;
  }
  pen.stroke();
}

/** Draws bar and strip. `load` is what the snapshot says of the load, `now` the latest load in N, `force` writes one, and `none` is what is written
 * where there is no load. */
export function drawLoad(canvas, past, load, now, lifted, force, none) {
  const on = sheet(canvas);
  if (!on) return;
  const { pen, width, height, color, font, letters } = on;
  const top = TOP_LETTERS * letters;
  pen.textBaseline = "middle";
  if (!load) {
    font(400, 1);
    pen.fillStyle = color("faint");
    pen.fillText(none, 4, height / 2);
    return;
  }
  const barWide = Math.min(120, Math.max(72, width * 0.24));
  const barLeft = width - barWide;
  const stripWide = barLeft - 8;
  const zero = height - FLOOR_LETTERS * letters;
  const most = load.scale_n > 0 ? load.scale_n : 1;
  const y = (n) => zero - (Math.min(Math.max(n, -0.05 * most), most) / most) * (zero - top);
  const newest = past.points.at(-1)?.[0] ?? 0;
  const x = (t) => Math.max(0, stripWide - ((newest - t) / SPAN_S) * stripWide);
  const limit = y(load.lifted_under_n ?? 0);

  // The floor: lifted.
  for (const [left, wide] of [[0, stripWide], [barLeft, barWide]]) {
    hatch(pen, left, limit, wide, height - limit, color("lifted"));
    pen.strokeStyle = color("lifted");
    pen.lineWidth = 2;
    pen.strokeRect(left + 1, limit, wide - 2, height - limit - 1);
  }

  // Time, and the load of the plow standing.
  font(400, 0.8);
  pen.textAlign = "left";
  pen.fillStyle = color("faint");
  pen.fillText("20 s ago", 0, top / 2);
  pen.textAlign = "center";
  if (stripWide > 3 * pen.measureText("20 s ago").width) pen.fillText("10 s", stripWide / 2, top / 2);
  pen.textAlign = "right";
  pen.fillText("now", stripWide, top / 2);
  pen.strokeStyle = color("faint");
  pen.lineWidth = 1;
  pen.beginPath();
  for (const part of [0.25, 0.5, 0.75]) {
    pen.moveTo(stripWide * part, top);
    pen.lineTo(stripWide * part, limit);
  }
  pen.stroke();
  if (load.standing_n > 0 && load.standing_n <= most) {
    pen.setLineDash([7, 5]);
    pen.lineWidth = 2;
    pen.strokeStyle = color("ink");
    pen.beginPath();
    pen.moveTo(0, y(load.standing_n));
    pen.lineTo(width, y(load.standing_n));
    pen.stroke();
    pen.setLineDash([]);
  }

  // The last 20 s, and where the wheel was off the ground.
  const points = past.points;
  pen.strokeStyle = color("load");
  pen.lineWidth = 2.5;
  pen.lineJoin = "round";
  line(pen, points, x, y);
  pen.fillStyle = color("lifted");
  for (const [from, to] of past.lifts(load.lifted_under_n ?? 0)) {
    const left = Math.min(x(from), x(to) - 4);
    pen.fillRect(left, limit, Math.max(4, x(to) - left), height - limit);
    const middle = (left + x(to)) / 2;
    pen.beginPath();
    pen.moveTo(middle - 7, limit - 14);
    pen.lineTo(middle + 7, limit - 14);
    pen.lineTo(middle, limit - 2);
    pen.fill();
  }

  // The bar.
  const value = now === null ? null : Math.max(now, 0);
  if (value !== null) {
    pen.fillStyle = color("load");
    pen.fillRect(barLeft, y(value), barWide, zero - y(value));
  }
  pen.strokeStyle = color("edge");
  pen.lineWidth = 3;
  pen.strokeRect(barLeft + 1.5, top, barWide - 3, height - top - 1.5);
  if (lifted) {
    pen.fillStyle = color("lifted");
    pen.fillRect(barLeft + 1.5, limit, barWide - 3, height - limit - 1.5);
  }

  // Words last, on top of everything.
  font(700, 0.85);
  pen.textAlign = "left";
  const floorMiddle = (zero + height) / 2;
  lettered(pen, "LIFTED", 8, floorMiddle, color("lifted"), color("paper"));
  pen.textAlign = "center";
  const tooWide = pen.measureText("LIFTED").width / (barWide - 12);
  if (tooWide > 1) font(700, 0.85 / tooWide);
  const paper = lifted ? "lifted" : "paper";
  lettered(pen, "LIFTED", barLeft + barWide / 2, floorMiddle, color(lifted ? "on-lifted" : "lifted"), color(paper));
  // Within the bar, where it hides nothing of what was.
  if (load.standing_n > 0 && load.standing_n <= most) {
    const words = ["standing", force(load.standing_n)];
    font(600, 0.75);
    const wide = Math.max(...words.map((one) => pen.measureText(one).width)) / (barWide - 12);
    if (wide > 1) font(600, 0.75 / wide);
    words.forEach((one, number) => {
      const at = y(load.standing_n) + (number - 0.5) * letters;
      lettered(pen, one, barLeft + barWide / 2, at, color("ink"), color("paper"));
    });
  }
}

/** Draws the depth of the last 20 s against its target, the deeper the lower. */
export function drawDepth(canvas, past, target, words) {
  const on = sheet(canvas);
  if (!on) return;
  const { pen, width, height, color, font, letters } = on;
  const depths = past.points.map(([t, , depth]) => [t, depth]);
  const known = depths.map(([, depth]) => depth).filter((depth) => depth !== null);
  if (!known.length) return;
  const deepest = Math.max(1.5 * (target ?? 0), ...known, 1);
  const y = (depth) => 4 + (Math.max(depth, 0) / deepest) * (height - 8);
  const newest = past.points.at(-1)[0];
  const x = (t) => width - ((newest - t) / SPAN_S) * width;
  pen.textBaseline = "middle";
  if (target !== null) {
    pen.setLineDash([7, 5]);
    pen.lineWidth = 2;
    pen.strokeStyle = color("ink");
    pen.beginPath();
    pen.moveTo(0, y(target));
    pen.lineTo(width, y(target));
    pen.stroke();
    pen.setLineDash([]);
  }
  pen.strokeStyle = color("load");
  pen.lineWidth = 2.5;
  line(pen, depths, x, y);
  font(600, 0.8);
  // Above the curve of a plow in the ground, where it hides nothing.
  lettered(pen, words, 4, 0.5 * letters, color("ink"), color("paper"));
}
