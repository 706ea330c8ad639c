// The exercises: the teacher begins one, its beat is counted for the eye and the ear, and every page is told the marks.

// A round begins so long after it is asked for, in seconds: the server must know of it before.
const AHEAD_S = 1;
// Beats that are counted before the first note.
const COUNTED = 4;

export class Drill {
  // `redraw` shows the state anew, `tell` says something to a screen reader.
  constructor(view, line, tones, redraw, tell) {
    Object.assign(this, { view, line, tones, redraw, tell });
    this.running = null;
    this.marks = null;
    this.why = "";
    this.beginsAt = null;
  }

  // Ask for an exercise; its clicks, if they are wanted, are on their way already.
  async begin({ exercise, tempo, player, clicks }) {
    const request = { on: true, exercise, tempo, player };
    if (clicks) {
      const latency = await this.tones.count(COUNTED, 60 / tempo, AHEAD_S);
      this.beginsAt = performance.now() + 1000 * (AHEAD_S + latency);
      this.line.ask("drill", { ...request, in: AHEAD_S, latency: Math.round(1000 * latency) / 1000 });
    } else {
      this.beginsAt = performance.now() + 1000 * AHEAD_S;
      this.line.ask("drill", { ...request, in: AHEAD_S, latency: null });
    }
  }

  stop() {
    this.line.ask("drill", { on: false });
  }

  // A server that came back knows of no exercise, and one that does says so next.
  forget() {
    if (this.running) this.why = "The line to the board broke, and the exercise with it.";
    this.running = null;
  }

  // What the server says of exercises.
  take(message) {
    if (message.is === "marks") {
      this.marks = message;
      this.view.marks = true;
      this.tell(message.next);
    } else if (message.on) {
      // The page that began it knows best when its own clicks sound.
      const beginsAt = this.beginsAt ?? performance.now() + 1000 * message.in;
      this.beginsAt = null;
      this.running = { ...message, beginsAt, beatMs: 60_000 / message.tempo };
      this.view.marks = false;
      this.why = "";
      this.tell(`${message.title}. ${message.how}`);
      this.#keepCounting(this.running);
    } else {
      this.tones.stopCounting();
      this.running = null;
      this.beginsAt = null;
      this.why = message.why;
      if (message.why) this.tell(message.why);
    }
  }

  // The beat now: its number in its bar, 0 before the first, and whether it is only counted; null while none is.
  get beat() {
    const { running } = this;
    if (!running) return null;
    const beat = Math.floor((performance.now() - running.beginsAt) / running.beatMs);
    const counting = beat < running.counted;
    if (beat >= running.counted + running.beats) return { number: 0, counting: false };
    return { number: beat < 0 ? 0 : (beat % running.counted) + 1, counting };
  }

  // The marks that are to be shown now; null when the map is.
  get shown() {
    return this.view.marks && !this.running ? this.marks : null;
  }

  toggleMarks() {
    this.view.set({ marks: !this.view.marks });
    this.tell(this.view.marks ? "the marks" : "the map");
  }

  // A picture for each beat, also while nothing else is new.
  #keepCounting(running) {
    const step = () => {
      if (this.running !== running) return;
      this.redraw();
      const since = performance.now() - running.beginsAt;
      setTimeout(step, running.beatMs - (((since % running.beatMs) + running.beatMs) % running.beatMs));
    };
    step();
  }
}
