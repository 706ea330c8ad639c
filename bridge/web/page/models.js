// The models that can be heard and drawn: how the pitch of a third moves. Pure.
// A curve is a list of strokes, each one breath: {at, points: [[seconds, cents], ...]}, seconds from its own beginning.

const GAP_S = 0.06;
const HOLD_BEATS = 1.5;
const TONGUED = 5;
const TURNS = 3;

export const MODELS = {
  straight: "straight",
  minor: "minor",
  blue: "blue, held",
  released: "begun low, released over one beat",
  tongued: "tongued, the bend growing",
  turns: "third and root in turn",
};

export function modelCurve(name, setup, tempo) {
  const beat = 60 / tempo;
  const low = Math.max(setup.minor, setup.zone_low);
  switch (name) {
    case "straight":
      return [held(0, HOLD_BEATS * beat, setup.straight)];
    case "minor":
      return [held(0, HOLD_BEATS * beat, setup.minor)];
    case "blue":
      return [held(0, HOLD_BEATS * beat, setup.target)];
    case "released":
      return [{ at: 0, points: [[0, low], [0.15 * beat, low], [beat, setup.straight], [HOLD_BEATS * beat, setup.straight]] }];
    case "tongued":
      return Array.from({ length: TONGUED }, (_, index) => {
        const depth = index / (TONGUED - 1);
        return held((index * beat) / 2, beat / 2 - GAP_S, setup.straight - depth * (setup.straight - setup.minor));
      });
    case "turns":
      return Array.from({ length: 2 * TURNS }, (_, index) =>
        held((index * beat) / 2, beat / 2 - GAP_S, index % 2 ? 0 : setup.target));
    default:
      return [];
  }
}

function held(at, length, cents) {
  return { at, points: [[0, cents], [length, cents]] };
}

// What was played as a curve to be sung again, from its first note on.
export function curveOf(paths) {
  const begin = paths[0]?.begin ?? 0;
  return paths
    .filter((path) => path.points.length > 1)
    .map((path) => ({
      at: path.begin - begin,
      points: path.points.map(([at, cents]) => [at - path.begin, cents]),
    }));
}

// The last half second of a path, stretched: `speed` 0.5 makes a second of it.
export function slowed(path, seconds, speed) {
  const end = path.points.at(-1)[0];
  const from = Math.max(path.points[0][0], end - seconds);
  const points = path.points.filter(([at]) => at >= from).map(([at, cents]) => [(at - from) / speed, cents]);
  return [{ at: 0, points }];
}

export function lengthOf(curve) {
  return curve.reduce((longest, stroke) => Math.max(longest, stroke.at + stroke.points.at(-1)[0]), 0);
}
