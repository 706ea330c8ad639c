// The way that each note took, put together from the trail that the server sends. Pure.
// A path is {id, begin, points: [[at, cents, shaky], ...], third, ended}; times are seconds of the stream.

import { fold } from "./scale.js";

// A trail with a hole wider than this was silent in between, in seconds.
const GAP_S = 0.06;
// A note is known some moments after its attack: so much of the trail before that belongs to it, in seconds.
const BEFORE_KNOWN_S = 0.06;
// No bend is as fast as that: farther than so many cents from one point to the next, this near in seconds, is a leap.
const LEAP_CENTS = 40;
const LEAP_S = 0.02;
// Notes kept: more than any phrase has that somebody wants to see again.
const MOST_PATHS = 200;
const MOST_POINTS = 6000;

export class Paths {
  constructor() {
    this.all = [];
    this.loose = [];
  }

  get current() {
    const last = this.all.at(-1);
    return last && !last.ended ? last : null;
  }

  // Whatever sounds next is another note.
  end() {
    if (this.current) this.current.ended = true;
    this.loose = [];
  }

  // Take in what one message says: the note that sounds (or null), and the points since the last message.
  take(note, trail, shaky) {
    if (this.current && this.current.id !== note?.id) this.current.ended = true;
    const points = trail.map(([at, cents]) => [at, fold(cents), shaky]);
    if (!note) {
      this.loose.push(...points);
      this.loose = sinceGap(this.loose).slice(-MOST_POINTS);
      return;
    }
    if (!this.current) this.#begin(note, points);
    else this.#append(points);
    if (isThird(note.degree)) this.current.third = true;
  }

  #begin(note, points) {
    const known = points[0]?.[0] ?? 0;
    const lately = ([at]) => at >= known - BEFORE_KNOWN_S;
    const before = sinceLeap(sinceGap([...this.#slurred(lately), ...this.loose, ...points])).filter(lately);
    this.loose = [];
    this.all.push({ id: note.id, begin: before[0]?.[0] ?? known, points: before, third: false, ended: false });
    this.all = this.all.slice(-MOST_PATHS);
  }

  // With another hole in the same breath the pitch leaps before the note is known: what lies after the leap is taken
  // from the way of the note before, whose it is not.
  #slurred(lately) {
    const last = this.all.at(-1);
    const tail = last?.points.filter(lately) ?? [];
    const moved = this.loose.length ? [] : sinceLeap(tail);
    if (!moved.length || moved.length === tail.length) return [];
    last.points = last.points.slice(0, -moved.length);
    return moved;
  }

  #append(points) {
    const path = this.current;
    if (!path.points.length && points.length) path.begin = points[0][0];
    path.points.push(...points);
    if (path.points.length > MOST_POINTS) path.points = path.points.filter((_, index) => index % 2 === 0);
  }
}

export function isThird(degree) {
  return degree === "3" || degree === "b3";
}

// The last unbroken stretch of a trail.
function sinceGap(points) {
  for (let index = points.length - 1; index > 0; index -= 1) {
    if (points[index][0] - points[index - 1][0] > GAP_S) return points.slice(index);
  }
  return points;
}

// What comes after the last leap of a trail, all of it where there is none.
function sinceLeap(points) {
  for (let index = points.length - 1; index > 0; index -= 1) {
    const [[at, cents], [before, low]] = [points[index], points[index - 1]];
    const way = Math.abs(((((cents - low + 600) % 1200) + 1200) % 1200) - 600);
    if (way > LEAP_CENTS && at - before < LEAP_S) return points.slice(index);
  }
  return points;
}

// The paths in a whole trail, for somebody who was not there while it was played: one for each note of a phrase.
export function pathsOf(notes, trail) {
  return notes.map((note) => {
    const points = trail.filter(([at]) => at >= note.start && at <= note.start + note.length);
    const kept = points.map(([at, cents]) => [at, fold(cents), false]);
    return { id: null, begin: note.start, points: kept, third: isThird(note.degree), ended: true };
  });
}

// A path as at most so many pairs of whole numbers, milliseconds and cents, and back again.
export function packed(path, most) {
  const step = Math.max(1, Math.ceil(path.points.length / most));
  const kept = path.points.filter((_, index) => index % step === 0);
  return kept.map(([at, cents]) => [Math.round(1000 * (at - path.begin)), Math.round(cents)]);
}

export function unpacked(numbers) {
  const points = numbers.map(([ms, cents]) => [ms / 1000, cents, false]);
  return { id: null, begin: 0, points, third: true, ended: true };
}
