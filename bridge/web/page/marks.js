// What moves on the map: the paths of notes, the mark of the one that sounds, a model beneath, how far it is to a place.

import { letters, plate } from "./ground.js";
import { outside } from "./scale.js";

// The way back to the zone is told fully from so far outside, in cents, and not at all inside it.
const FULLY_TOLD = 25;
const MILESTONE_S = 0.5;

// A path as maps draw roads: a rim and a core, broad where the pitch was steady and narrow where it was not, with a
// milestone each half second. `until` (seconds from its beginning) leaves the rest out.
export function drawPath(pen, scale, path, look, colour, width, until) {
  const points = path.points.filter(([at]) => at - path.begin <= until);
  const stretches = stretchesOf(points);
  pen.lineJoin = "round";
  pen.lineCap = "round";
  for (const [stroke, wider] of [[look.paper, 4], [colour, 0]]) {
    pen.strokeStyle = stroke;
    for (const stretch of stretches) {
      pen.lineWidth = (stretch[0][2] ? width * 0.4 : width) + wider;
      pen.beginPath();
      for (const [at, cents] of stretch) pen.lineTo(scale.x(at - path.begin), scale.y(cents));
      pen.stroke();
    }
  }
  pen.fillStyle = look.paper;
  let next = MILESTONE_S;
  for (const [at, cents] of points) {
    if (at - path.begin < next) continue;
    next += MILESTONE_S;
    pen.beginPath();
    pen.arc(scale.x(at - path.begin), scale.y(cents), width * 0.3, 0, 2 * Math.PI);
    pen.fill();
  }
}

// The points in pieces that are all steady or all shaky; each piece begins where the one before ends.
function stretchesOf(points) {
  const stretches = [];
  for (const point of points) {
    const last = stretches.at(-1);
    last?.push(point);
    if (!last || last[0][2] !== point[2]) stretches.push([point]);
  }
  return stretches;
}

// The beginning of a path, as a small ring: where the note was begun.
export function drawBeginning(pen, scale, path, look, radius) {
  const [at, cents] = path.points[0];
  pen.fillStyle = look.paper;
  pen.strokeStyle = look.ink;
  pen.lineWidth = 2.5;
  pen.beginPath();
  pen.arc(scale.x(at - path.begin) + radius, scale.y(cents), radius, 0, 2 * Math.PI);
  pen.fill();
  pen.stroke();
}

// The note that sounds. `mark` is {x, cents, low, high, breath, clean}: low to high is where a shaky note has just been.
export function drawMark(pen, scale, { x, cents, low, high, breath, clean }, look, radius) {
  const y = scale.y(cents);
  if (low !== null) {
    pen.strokeStyle = look.mark;
    pen.lineCap = "round";
    pen.lineWidth = 3;
    pen.beginPath();
    pen.moveTo(x - radius * 0.6, scale.y(high));
    pen.lineTo(x + radius * 0.6, scale.y(high));
    pen.moveTo(x, scale.y(high));
    pen.lineTo(x, scale.y(low));
    pen.moveTo(x - radius * 0.6, scale.y(low));
    pen.lineTo(x + radius * 0.6, scale.y(low));
    pen.stroke();
  }
  disc(pen, x, y, radius * (1.15 + 0.75 * breath), look.paper, look.ink, 2.5);
  disc(pen, x, y, radius, look.mark, look.paper, 3);
  // Two reeds at once are two halves that have come apart.
  if (clean < 0.5) {
    pen.fillStyle = look.paper;
    pen.fillRect(x - radius, y - 3, 2 * radius, 6);
  }
}

function disc(pen, x, y, radius, fill, rim, width) {
  pen.fillStyle = fill;
  pen.strokeStyle = rim;
  pen.lineWidth = width;
  pen.beginPath();
  pen.arc(x, y, radius, 0, 2 * Math.PI);
  pen.fill();
  pen.stroke();
}

// A model beneath the trace: a broad broken line for each of its strokes, all of them begun at the left edge.
export function drawModel(pen, scale, curve, look, width) {
  pen.save();
  pen.beginPath();
  pen.rect(scale.left, scale.top, scale.width, scale.height);
  pen.clip();
  pen.strokeStyle = look.model;
  pen.lineWidth = width;
  pen.lineCap = "butt";
  pen.setLineDash([width * 1.6, width * 0.8]);
  for (const { points } of curve) {
    pen.beginPath();
    const [[from, first]] = points;
    pen.moveTo(scale.x(from), scale.y(first));
    for (let index = 1; index < points.length; index += 1) bow(pen, scale, points[index - 1], points[index]);
    pen.stroke();
  }
  pen.restore();
}

// A straight way in cents and seconds is bowed on the map, whose time grows narrower.
function bow(pen, scale, [from, low], [to, high]) {
  const steps = 12;
  for (let step = 1; step <= steps; step += 1) {
    const share = step / steps;
    pen.lineTo(scale.x(from + share * (to - from)), scale.y(low + share * (high - low)));
  }
}

export function drawReference(pen, scale, cents, look, size) {
  pen.strokeStyle = look.second;
  pen.lineWidth = 4;
  pen.setLineDash([4, 8]);
  pen.beginPath();
  pen.moveTo(scale.left, scale.y(cents));
  pen.lineTo(scale.left + scale.width, scale.y(cents));
  pen.stroke();
  pen.setLineDash([]);
  pen.font = letters(size * 0.7);
  plate(pen, "reference tone", scale.left + size * 0.5, scale.y(cents) - size * 0.4, look, size * 0.7);
}

// How far it is to the place that is aimed at: a thin thread that fades away as the mark comes nearer.
export function drawThread(pen, scale, mark, [low, high], look, radius) {
  const off = outside(mark.cents, low, high);
  if (!off) return;
  const edge = off < 0 ? low : high;
  pen.save();
  pen.globalAlpha = Math.min(1, Math.abs(off) / FULLY_TOLD);
  pen.strokeStyle = look.ink;
  pen.lineWidth = 3;
  pen.setLineDash([3, 7]);
  pen.beginPath();
  pen.moveTo(mark.x, scale.y(mark.cents));
  pen.lineTo(mark.x, scale.y(edge));
  pen.stroke();
  disc(pen, mark.x, scale.y(edge), radius * 0.25, look.ink, look.ink, 1);
  pen.restore();
}
