// What the teacher can do: hold and hide the picture, hear models and what was played, compare, ask the bridge.

import { Drill } from "./drill.js";
import { curveOf, lengthOf, modelCurve, slowed } from "./models.js";
import { Tones } from "./tones.js";

const LOOPED_S = 0.5;
const LOOP_REST_S = 0.25;
// Heard beside a replay that nobody hears: a viewer's picture runs through it in the same time.
const TAIL_S = 0.6;
// Whoever does not want things to move sees the phrase as a whole at once.
const STILL = matchMedia("(prefers-reduced-motion: reduce)");

export class Lesson {
  // `redraw` shows the state anew, `tell` says something to a screen reader.
  constructor(board, view, line, redraw, tell) {
    Object.assign(this, { board, view, line, redraw, tell });
    this.tones = new Tones((on) => this.#hush(on));
    this.drill = new Drill(view, line, this.tones, redraw, tell);
    this.headphones = false;
    this.looping = false;
    this.running = null;
    this.keptUntil = -1;
    this.model = view.model;
  }

  get rootHz() {
    return this.board.setup.root_hz * 2 ** this.board.octave;
  }

  // The thirds of this phrase, or of the last one.
  get lastThirds() {
    const { thirds, phrase } = this.board;
    return (thirds.length ? thirds : phrase.filter((path) => path.third)).filter((path) => path.points.length > 1);
  }

  // The picture that a replay shows now, null while none runs.
  get replayScene() {
    if (!this.running) return null;
    const { paths, began } = this.running;
    return { paths, seconds: STILL.matches ? Infinity : (performance.now() - began) / 1000 };
  }

  arm() {
    this.line.ask("arm", { on: !this.board.now?.armed });
  }

  panic() {
    this.line.ask("panic");
    this.tell("asked the bridge to silence the synth");
  }

  changeHarp(harp) {
    this.line.ask("harp", { harp });
    this.tell(`asked for the ${harp} harp`);
  }

  hold() {
    this.view.set({ held: !this.view.held });
    this.tell(this.view.held ? "picture held" : "picture goes on");
  }

  // An attempt is what was played since the one that was kept before, of the last phrase.
  keep(place) {
    const { lastThirds } = this;
    const since = lastThirds.filter((path) => path.begin > this.keptUntil);
    this.view.keep(place, since.length ? since : lastThirds.slice(-1));
    this.keptUntil = lastThirds.at(-1).begin;
    this.tell(`kept as ${place ? "second" : "first"} attempt`);
  }

  // Show the last phrase once more as it went, and sing it; viewers see the same without the sound.
  replay() {
    const paths = this.board.phrase.filter((path) => path.points.length > 1);
    if (!paths.length) return;
    this.view.set({ replays: this.view.replays + 1, held: false, beside: false });
    this.#stopLoop();
    this.tones.sing(curveOf(paths), this.board.setup.root_hz * 2 ** this.board.octave).then(() => this.watch());
  }

  // Let the picture run through the last phrase.
  watch() {
    const paths = this.board.phrase.filter((path) => path.points.length > 1);
    if (!paths.length) return;
    const running = { paths, began: performance.now(), ends: lengthOf(curveOf(paths)) + TAIL_S };
    this.running = running;
    const step = () => {
      if (this.running !== running) return;
      if ((performance.now() - running.began) / 1000 > running.ends) this.running = null;
      this.redraw();
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  singModel() {
    const curve = this.#chosen();
    if (!curve.length) return this.tell("nothing has been played yet");
    this.#stopLoop();
    this.tones.sing(curve, this.rootHz, { done: this.redraw });
    this.redraw();
  }

  chooseModel(model) {
    this.model = model;
    if (model !== "own") this.view.set({ model });
  }

  drone() {
    this.tones.hold("drone", this.tones.held.has("drone") ? null : this.rootHz);
    this.redraw();
  }

  loop(speed) {
    if (this.looping) {
      this.#stopLoop();
      this.tones.stopSinging();
    } else if (this.board.lastNote) {
      this.looping = true;
      this.looped = this.board.lastNote;
      this.loopAt(speed);
    }
    this.redraw();
  }

  // Sing the looped half second at another speed; its pitch stays.
  loopAt(speed) {
    if (!this.looping) return;
    const [stroke] = slowed(this.looped, LOOPED_S, speed);
    this.tones.sing([stroke], this.rootHz, { again: LOOP_REST_S });
  }

  reference(cents) {
    const on = !this.tones.held.has("reference");
    this.tones.hold("reference", on ? this.#hz(cents) : null);
    this.view.set({ reference: on ? cents : null });
  }

  moveReference(cents) {
    if (this.tones.held.has("reference")) {
      this.tones.hold("reference", this.#hz(cents));
      this.view.set({ reference: cents });
    }
    this.redraw();
  }

  // Another harp is in hand: what is held goes on from its root, or ends where nobody knows which harp it is.
  retune() {
    const known = Boolean(this.board.setup.root_hz);
    if (this.tones.held.has("drone")) this.tones.hold("drone", known ? this.rootHz : null);
    if (this.tones.held.has("reference")) this.tones.hold("reference", known ? this.#hz(this.view.reference) : null);
  }

  silence() {
    if (this.drill.running) this.drill.stop();
    this.#stopLoop();
    this.running = null;
    this.tones.stop();
    this.view.set({ reference: null });
  }

  useHeadphones(on) {
    this.headphones = on;
    // What sounds already goes on with the microphone as it should be from now on.
    if (this.tones.hushed) this.line.ask("quiet", { on: !on });
  }

  // To a server that was not there before: whether the microphone must pause.
  sayAgain() {
    if (this.tones.hushed) this.#hush(true);
  }

  look(choice) {
    if (choice === "auto") delete document.documentElement.dataset.look;
    else document.documentElement.dataset.look = choice;
    this.redraw();
  }

  #chosen() {
    const { board, view } = this;
    if (this.model !== "own") return modelCurve(view.model, board.setup, view.tempo);
    return board.lastNote ? curveOf([board.lastNote]) : [];
  }

  #hz(cents) {
    return this.rootHz * 2 ** (cents / 1200);
  }

  #stopLoop() {
    this.looping = false;
  }

  #hush(on) {
    if (!this.headphones) this.line.ask("quiet", { on });
  }
}
