// The sounds of the board: a reed-like tone that sings a curve, a drone and a reference tone, all of them quiet at first.
// `hush(true)` is called before anything sounds and `hush(false)` once it has died away, so that the microphone pauses.

// Full scale times this, at the middle of the loudness control: about -30 dB.
const QUIET = 0.03;
const ATTACK_S = 0.03;
const RELEASE_S = 0.06;
// A room still rings this long after the sound.
const RING_S = 0.4;
const AHEAD_S = 0.05;
// A click of the count-in, as the terminal's: the first one higher, gone within 30 ms.
const FIRST_CLICK_HZ = 2400;
const CLICK_HZ = 1800;
const CLICK_S = 0.03;
const CLICK_DECAY_S = 0.006;
// A free reed: its second harmonic is stronger than the first, the rest falls by 9 dB an octave. Beyond this many, or
// this share of the sampling rate, nothing sounds.
const FIRST = 0.7;
const FALL_DB = 9;
const MOST_PARTIALS = 24;
const HIGHEST_SHARE = 0.4;

export function reedWave(context, highestHz) {
  const count = Math.max(2, Math.min(MOST_PARTIALS, Math.floor((HIGHEST_SHARE * context.sampleRate) / highestHz)));
  const real = new Float32Array(count + 1);
  const imag = new Float32Array(count + 1);
  for (let number = 1; number <= count; number += 1) {
    const fallen = 10 ** ((-FALL_DB * Math.log2(Math.max(number, 2) / 2)) / 20);
    imag[number] = number === 1 ? FIRST : fallen;
  }
  return context.createPeriodicWave(real, imag);
}

// One stroke of a curve into `output`: linear in cents between its points. Gives the oscillator, which ends by itself.
export function singStroke(context, output, rootHz, points, start) {
  const highest = rootHz * 2 ** (Math.max(...points.map(([, cents]) => cents)) / 1200);
  const oscillator = new OscillatorNode(context, { frequency: rootHz, detune: points[0][1] });
  oscillator.setPeriodicWave(reedWave(context, highest));
  oscillator.detune.setValueAtTime(points[0][1], start);
  for (const [at, cents] of points) oscillator.detune.linearRampToValueAtTime(cents, start + at);
  const end = start + Math.max(points.at(-1)[0], ATTACK_S + RELEASE_S);
  const envelope = new GainNode(context, { gain: 0 });
  envelope.gain.setValueAtTime(0, start);
  envelope.gain.linearRampToValueAtTime(1, start + ATTACK_S);
  envelope.gain.setValueAtTime(1, end - RELEASE_S);
  envelope.gain.linearRampToValueAtTime(0, end);
  oscillator.connect(envelope).connect(output);
  oscillator.start(start);
  oscillator.stop(end);
  return oscillator;
}

export function click(context, output, hz, start) {
  const oscillator = new OscillatorNode(context, { frequency: hz });
  const envelope = new GainNode(context, { gain: 0 });
  envelope.gain.setValueAtTime(1, start);
  envelope.gain.setTargetAtTime(0, start, CLICK_DECAY_S);
  oscillator.connect(envelope).connect(output);
  oscillator.start(start);
  oscillator.stop(start + CLICK_S);
  return oscillator;
}

export class Tones {
  constructor(hush) {
    this.hush = hush;
    this.loudness = 0.5;
    this.context = null;
    this.sung = new Set();
    this.held = new Map();
    this.clicks = [];
    this.hushed = false;
    this.ring = 0;
    this.round = 0;
  }

  // 0..1, one half at first. Quadratic: the lower half is fine and never loud.
  setLoudness(share) {
    this.loudness = share;
    if (this.context) this.master.gain.setTargetAtTime(this.#gain(), this.context.currentTime, 0.02);
  }

  // Sing a curve once, or over and over with `again` seconds between; `done` is called at the end, not when stopped.
  async sing(curve, rootHz, { again = null, done = () => {} } = {}) {
    this.stopSinging();
    const round = this.round;
    await this.#open();
    if (round !== this.round || !curve.length) {
      this.#settle();
      return;
    }
    const start = this.context.currentTime + AHEAD_S;
    let left = curve.length;
    for (const stroke of curve) {
      const voice = singStroke(this.context, this.master, rootHz, stroke.points, start + stroke.at);
      this.sung.add(voice);
      voice.onended = () => {
        this.sung.delete(voice);
        left -= 1;
        if (round !== this.round || left) return;
        if (again !== null) setTimeout(() => round === this.round && this.sing(curve, rootHz, { again, done }), 1000 * again);
        else {
          done();
          this.#settle();
        }
      };
    }
  }

  get singing() {
    return this.sung.size > 0;
  }

  stopSinging() {
    this.round += 1;
    for (const voice of this.sung) voice.stop();
    this.sung.clear();
    this.#settle();
  }

  // A steady tone called `name` at `hz`, until it is let go with hz null; a sounding one moves to its new pitch.
  async hold(name, hz) {
    const sounding = this.held.get(name);
    if (hz === null) {
      this.held.delete(name);
      if (sounding) fadeOut(this.context, sounding);
      this.#settle();
    } else if (sounding) {
      sounding.hz = hz;
      sounding.oscillator?.frequency.setTargetAtTime(hz, this.context.currentTime, 0.01);
    } else {
      const voice = { hz };
      this.held.set(name, voice);
      await this.#open();
      if (this.held.get(name) !== voice) this.#settle();
      else Object.assign(voice, steady(this.context, this.master, voice.hz));
    }
  }

  stop() {
    this.stopSinging();
    this.stopCounting();
    for (const name of [...this.held.keys()]) this.hold(name, null);
  }

  // Click `beats` times, once every `beatS` seconds, `aheadS` seconds from now on; gives what the loudspeaker takes on
  // top of that, in seconds, as far as the browser knows. The microphone listens on: it hears how late they come back.
  async count(beats, beatS, aheadS) {
    this.stopCounting();
    await this.#wake();
    const first = this.context.currentTime + aheadS;
    this.clicks = Array.from({ length: beats }, (_, beat) =>
      click(this.context, this.master, beat ? CLICK_HZ : FIRST_CLICK_HZ, first + beat * beatS));
    return (this.context.baseLatency ?? 0) + (this.context.outputLatency ?? 0);
  }

  stopCounting() {
    for (const oscillator of this.clicks) oscillator.stop();
    this.clicks = [];
  }

  #gain() {
    return 4 * QUIET * this.loudness ** 2;
  }

  async #open() {
    clearTimeout(this.ring);
    // Not before there is a loudspeaker that sounds: a browser may keep it waiting for as long as it likes.
    await this.#wake();
    clearTimeout(this.ring);
    if (!this.hushed) {
      this.hushed = true;
      this.hush(true);
    }
  }

  async #wake() {
    if (!this.context) {
      this.context = new AudioContext();
      this.master = new GainNode(this.context, { gain: this.#gain() });
      this.master.connect(this.context.destination);
    }
    await this.context.resume();
  }

  // Once nothing sounds any more, and the room has rung out, the microphone may go on.
  #settle() {
    clearTimeout(this.ring);
    if (!this.hushed) return;
    this.ring = setTimeout(() => {
      if (this.sung.size || this.held.size) return;
      this.hushed = false;
      this.hush(false);
    }, 1000 * RING_S);
  }
}

function steady(context, output, hz) {
  const oscillator = new OscillatorNode(context, { frequency: hz });
  oscillator.setPeriodicWave(reedWave(context, 2 * hz));
  const envelope = new GainNode(context, { gain: 0 });
  envelope.gain.setTargetAtTime(0.6, context.currentTime, 0.1);
  oscillator.connect(envelope).connect(output);
  oscillator.start();
  return { oscillator, envelope };
}

function fadeOut(context, { oscillator, envelope }) {
  if (!oscillator) return;
  envelope.gain.setTargetAtTime(0, context.currentTime, RELEASE_S / 3);
  oscillator.stop(context.currentTime + 2 * RELEASE_S);
}
