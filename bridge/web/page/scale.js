// Where cents and seconds lie on the map, and what its zones are called. Pure: numbers in, numbers and names out.
// Cents are above the root, folded to -50..1150; seconds are counted from the beginning of a note.

// The map shows a little more than minor to straight: a third may be played that far outside, in cents.
export const BELOW_MINOR = 60;
export const ABOVE_STRAIGHT = 45;
// How near counts as being at a line, in cents; the words of the terminal use the same.
const THERE = 8;
// The first moments of a note matter most, so that the map is widest there: half its width is this many seconds.
const HALF_WAY_S = 0.8;
const FULL_SHARE = 0.97;
// Blueness at which the slopes of the blue zone get a contour line.
const CONTOURS = [0.75, 0.5, 0.25];

export function fold(cents) {
  return ((((cents + 50) % 1200) + 1200) % 1200) - 50;
}

export function isInside(cents, setup) {
  return cents !== null && cents >= setup.minor - BELOW_MINOR && cents <= setup.straight + ABOVE_STRAIGHT;
}

// The zones from low to high: name, surface, and the cents they reach from and to.
export function zonesOf(setup) {
  const edges = [
    ["below minor", "rough", setup.minor - BELOW_MINOR, setup.minor - THERE],
    ["minor", "plain", setup.minor - THERE, setup.zone_low],
    ["blue", "water", setup.zone_low, setup.zone_high],
    ["between blue and straight", "plain", setup.zone_high, setup.straight - THERE],
    ["straight", "firm", setup.straight - THERE, setup.straight + THERE],
    ["above straight", "rough", setup.straight + THERE, setup.straight + ABOVE_STRAIGHT],
  ];
  return edges.filter(([, , low, high]) => high > low).map(([name, surface, low, high]) => ({ name, surface, low, high }));
}

// Cents of the contour lines: raised-cosine slopes, 0 at the straight third and one half at the minor third.
export function contoursOf(setup) {
  const turns = CONTOURS.map((blueness) => Math.acos(2 * blueness - 1) / Math.PI);
  const up = turns.map((turn) => setup.zone_high + turn * (setup.straight - setup.zone_high));
  const down = turns.map((turn) => setup.zone_low - turn * 2 * (setup.zone_low - setup.minor));
  return [...up, ...down];
}

// How far outside the place that is aimed at, in cents: 0 inside it, negative below.
export function outside(cents, low, high) {
  if (cents < low) return cents - low;
  return cents > high ? cents - high : 0;
}

export class Scale {
  constructor(setup, left, top, width, height) {
    this.low = setup.minor - BELOW_MINOR;
    this.high = setup.straight + ABOVE_STRAIGHT;
    Object.assign(this, { left, top, width, height });
  }

  y(cents) {
    return this.top + (this.height * (this.high - cents)) / (this.high - this.low);
  }

  // A note of any length stays on the map: it walks ever more slowly towards the edge.
  x(seconds) {
    const since = Math.max(seconds, 0);
    return this.left + (this.width * FULL_SHARE * since) / (since + HALF_WAY_S);
  }
}
