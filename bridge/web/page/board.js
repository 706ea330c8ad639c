// What the board knows: the messages of the server folded into one state. Pure.

import { Paths, pathsOf } from "./paths.js";

// A page that came this much after the beginning of a phrase has missed it, in seconds.
const LATE_S = 0.15;
// A line for the player stays so long, in seconds of the stream, before something that is heard takes it away.
const SAID_S = 4;

export class Board {
  constructor() {
    this.setup = null;
    this.role = null;
    this.now = null;
    this.ended = null;
    this.saying = "";
    this.saidAt = 0;
    this.lost = "looking for the bridge";
    this.paths = new Paths();
    this.since = 0;
    this.phrase = [];
    this.octave = 0;
  }

  take(message) {
    switch (message.is) {
      case "hello":
        this.role = message.role;
        this.#takeSetup(message.setup);
        break;
      case "setup":
        this.#takeSetup(message.setup);
        break;
      case "now":
        this.#takeNow(message);
        break;
      case "ended":
        this.ended = message.note;
        break;
      case "phrase":
        this.#takePhrase(message);
        break;
      case "saying":
        this.saying = message.text;
        this.saidAt = this.now?.at ?? -SAID_S;
        break;
    }
  }

  // Why nothing comes any more, "" when it does again: what was heard before is over.
  lose(reason) {
    this.lost = reason;
    if (!reason) return;
    this.now = null;
    this.saying = "";
    this.paths.end();
  }

  get sounds() {
    return Boolean(this.now && this.now.cents !== null && !this.now.stalled);
  }

  // The paths of thirds since the last rest, the one that sounds last.
  get thirds() {
    return this.paths.all.slice(this.since).filter((path) => path.third);
  }

  get lastNote() {
    return this.paths.all.findLast((path) => path.points.length > 1) ?? null;
  }

  // Ways on another harp are counted from another root: they go.
  #takeSetup(setup) {
    const other = this.setup && (setup.root_hz !== this.setup.root_hz || setup.straight !== this.setup.straight);
    this.setup = setup;
    if (!other) return;
    this.paths = new Paths();
    this.since = 0;
    this.phrase = [];
  }

  #takeNow(message) {
    this.now = message;
    if (message.cents !== null && !(message.at - this.saidAt < SAID_S)) this.saying = "";
    const before = this.paths.all.length;
    this.paths.take(message.note, message.trail, message.shaky);
    // Old paths are forgotten at the front: the place where the phrase began moves with them.
    if (this.paths.all.length < before) this.since = Math.max(0, this.since - (before - this.paths.all.length));
    if (message.note && message.cents !== null) this.octave = message.octave;
  }

  // Where the whole phrase was followed here its own paths are finer than those that are sent with it.
  #takePhrase({ notes, trail }) {
    const own = this.paths.all.slice(this.since);
    const whole = own.length > 0 && own[0].begin <= notes[0].start + LATE_S;
    this.phrase = whole ? own : pathsOf(notes, trail);
    this.since = this.paths.all.length;
  }
}
