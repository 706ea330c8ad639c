// What the picture shows now, chosen from what the board knows and how the teacher looks at it. Pure.

import { curveOf, modelCurve } from "./models.js";
import { isThird, unpacked } from "./paths.js";
import { shownCents } from "./words.js";

const WHOLE = () => Infinity;
// Paths of the same phrase stay on the map for so long, in seconds.
const STAYS_S = 8;
// And so many of them beside the one that sounds: more of them hide each other.
const MOST_OLD = 6;
const SHAKY_S = 0.15;
const THERE = 8;
const REED_UP_S = 0.06;

export function sceneOf(board, view, replay) {
  const { setup } = board;
  const model = view.under && setup ? drawnModel(view, setup) : [];
  const shared = { setup, aim: aimOf(setup, view), reference: view.reference, dim: false, cents: null };
  if (view.beside) return { ...shared, sides: [0, 1].map((place) => attemptSide(view.attempt(place), place, setup, model)) };
  if (replay) return { ...shared, ...replayed(board, replay, model) };
  const cents = board.sounds ? shownCents(board.now) : null;
  const mark = markOf(board, cents);
  return { ...shared, cents, dim: !mark, sides: [{ title: "", paths: pathsNow(board), until: WHOLE, model, mark, fades: true }] };
}

function drawnModel(view, setup) {
  if (view.model !== "own") return modelCurve(view.model, setup, view.tempo);
  return curveOf([unpacked(view.own)]);
}

// The thirds that are on the map: those of this phrase, or of the last one while nobody plays.
function pathsNow(board) {
  const { thirds, now } = board;
  const lately = thirds.filter((path) => now && now.at - path.begin < STAYS_S);
  if (board.paths.current?.third) return lately.slice(-MOST_OLD - 1);
  if (lately.length || board.sounds) return lately.slice(-MOST_OLD);
  return board.phrase.filter((path) => path.third).slice(-MOST_OLD);
}

function markOf(board, cents) {
  const { now, paths } = board;
  const path = paths.current;
  if (cents === null || !path || !now.note || !isThird(now.note.degree)) return null;
  const lately = path.points.filter(([at]) => at >= now.at - SHAKY_S).map(([, value]) => value);
  const spread = now.shaky && lately.length > 1;
  return {
    cents,
    seconds: now.at - path.begin,
    low: spread ? Math.min(...lately) : null,
    high: spread ? Math.max(...lately) : null,
    breath: now.breath,
    clean: now.clean,
  };
}

function attemptSide(paths, place, setup, model) {
  const path = paths.at(-1);
  const way = path ? `${from(begun(path), setup)}, then ${from(path.points.at(-1), setup)}` : "none kept yet";
  return { title: `${place ? "2nd" : "1st"}: ${way}`, paths, until: WHOLE, model, mark: null };
}

// Where a note began once the reed had come up.
function begun({ begin, points }) {
  return points.find(([at]) => at - begin >= REED_UP_S) ?? points[0];
}

// How far from straight, as short as can be.
function from([, cents], setup) {
  const off = Math.round(cents - setup.straight);
  return off ? `${Math.abs(off)} ${off < 0 ? "under" : "over"}` : "straight";
}

// The phrase up to `replay.seconds` after its beginning, with the mark where it was then.
function replayed(board, { seconds, paths }, model) {
  const begin = paths[0].begin;
  const begun = paths.filter((path) => path.begin - begin <= seconds);
  const last = begun.at(-1);
  const point = last.points.findLast(([at]) => at - begin <= seconds) ?? last.points[0];
  const inside = point && seconds <= last.points.at(-1)[0] - begin + SHAKY_S;
  const still = { low: null, high: null, breath: 0, clean: 1 };
  const mark = inside && last.third ? { ...still, cents: point[1], seconds: point[0] - last.begin } : null;
  const thirds = begun.filter((path) => path.third);
  const until = (path) => begin + seconds - path.begin;
  return { cents: inside ? point[1] : null, dim: !mark, sides: [{ title: "", paths: thirds, until, model, mark }] };
}

// The place that the thread leads to, as low and high cents: the model's where it stands still, else the blue zone.
function aimOf(setup, view) {
  if (!setup) return null;
  const still = { straight: setup.straight, minor: setup.minor }[view.model];
  if (!view.under || view.model === "blue") return [setup.zone_low, setup.zone_high];
  return still === undefined ? null : [still - THERE, still + THERE];
}
