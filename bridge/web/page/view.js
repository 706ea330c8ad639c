// How the picture is looked at: what the teacher has chosen and every viewer follows. Pure but for its one listener.

import { packed, unpacked } from "./paths.js";

// Together with the rest this stays well below what the server hands on, 2,000 bytes.
const ATTEMPT_POINTS = 50;
const ATTEMPT_PATHS = 6;
const OWN_POINTS = 24;

export class View {
  // `changed` is called after each change that the viewers should follow.
  constructor(changed) {
    this.changed = changed;
    this.hidden = false;
    this.after = false;
    this.held = false;
    this.under = false;
    this.beside = false;
    this.model = "released";
    this.tempo = 80;
    this.reference = null;
    this.attempts = [[], []];
    // The note that is drawn as the model "own", packed.
    this.own = [];
    // What sounds, or did last, in words.
    this.sounding = "";
    this.replays = 0;
    // Whether the marks of the last exercise stand in place of the map.
    this.marks = false;
    // By this a page knows what it has shared itself from what another teacher's page has.
    this.by = crypto.getRandomValues(new Uint32Array(1))[0];
  }

  set(values) {
    Object.assign(this, values);
    this.changed();
  }

  keep(place, paths) {
    const kept = paths.slice(-ATTEMPT_PATHS);
    this.attempts[place] = kept.map((path) => packed(path, Math.floor(ATTEMPT_POINTS / kept.length)));
    this.changed();
  }

  keepOwn(path) {
    this.set({ own: path ? packed(path, OWN_POINTS) : [] });
  }

  attempt(place) {
    return this.attempts[place].map(unpacked);
  }

  toShare() {
    const { hidden, after, held, under, beside, model, tempo, reference, attempts, own, sounding } = this;
    const { replays, marks, by } = this;
    return { hidden, after, held, under, beside, model, tempo, reference, attempts, own, sounding, replays, marks, by };
  }

  // Take over what another page has shared; says whether that starts a replay. Its own comes back and changes nothing.
  follow({ by, ...view }) {
    if (by === this.by) return false;
    const again = this.followed && view.replays > this.replays;
    this.followed = true;
    Object.assign(this, view);
    return again;
  }
}
