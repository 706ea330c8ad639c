// Where cents and seconds lie on the map, and what its zones are called. Pure: numbers in, numbers and names out.
// Cents are above the root, folded to -50..1150; seconds are counted from the beginning of a note.

// The first moments of a note matter most, so that the map is widest there: half its width is this many seconds.
const HALF_WAY_S = 0.8;
const FULL_SHARE = 0.97;
// Blueness at which the slopes of the blue zone get a contour line.
const CONTOURS = [0.75, 0.5, 0.25];

export function fold(cents) {
  return ((((cents + 50) % 1200) + 1200) % 1200) - 50;
}

// The map shows a little more than minor to straight: a third may be played that far outside.
function endsOf(setup) {
  const zones = zonesOf(setup);
  return { low: zones[0].low, high: zones.at(-1).high };
}

export function isInside(cents, setup) {
  const { low, high } = endsOf(setup);
  return cents !== null && cents >= low && cents <= high;
}

// The zones from low to high: name, surface, and the cents they reach from and to; the server's, as its words have them.
export function zonesOf(setup) {
  return setup.zones.map(([name, surface, low, high]) => ({ name, surface, low, high }));
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
    Object.assign(this, endsOf(setup), { left, top, width, height });
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
