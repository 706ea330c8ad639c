// The words of the page: what stands in it for the eye, and the fewer ones that a screen reader is told.

// Numbers that change faster than this cannot be read, in milliseconds; nor can a voice say more than one note in this.
const READABLE_MS = 120;
const SAID_MS = 2500;
const STRONG = 0.66;
const SOFT = 0.33;
const TWO_REEDS = 0.5;

// The cents to show of a moment: of a shaky note the middle of its last 150 ms.
export function shownCents(now) {
  return now.shaky && now.steady !== null ? now.steady : now.cents;
}

// Whole cents without their sign.
export function counted(cents) {
  return `${Math.abs(cents)} ${Math.abs(cents) === 1 ? "cent" : "cents"}`;
}

export function centsText(now, setup) {
  if (now.cents === null || !setup.root) return "";
  const cents = Math.round(shownCents(now));
  const name = now.note ? `${now.note.name} · ` : "";
  const where = `${name}${counted(cents)} ${cents < 0 ? "below" : "above"} ${setup.root}`;
  const hole = now.note?.hole ? ` · ${now.note.hole}` : "";
  return `${where}${now.shaky ? ", the middle of a moving pitch" : hole}`;
}

// Where the note is: the server's words, but of a shaky note those of its middle, which the cents beneath are of.
export function placeWords(now, setup, sounding) {
  if (now.quiet && now.cents === null && !now.stalled) return sounding || now.words;
  if (!now.shaky || now.steady === null) return now.words;
  const [degree] = now.words.split(",");
  if (degree !== "third") return `${degree}, moving`;
  const off = Math.round(now.steady - setup.straight);
  const side = off ? `${counted(off)} ${off < 0 ? "under" : "over"} straight` : "straight";
  return `third, around ${side}`;
}

export function breathWords(breath) {
  if (breath <= 0.01) return "no breath";
  if (breath < SOFT) return "soft breath";
  return breath < STRONG ? "breath" : "strong breath";
}

export function cleanWords(now) {
  if (!now || now.cents === null) return "no note";
  return now.clean < TWO_REEDS ? "two reeds?" : "one reed";
}

function armedWords(board) {
  if (board.lost) return board.lost.endsWith("over") ? "over" : "not connected";
  if (!board.now) return "connected";
  if (board.now?.quiet) return "paused";
  if (board.now?.stalled) return "no sound";
  return board.now?.armed ? "listening" : "not listening";
}

export class Words {
  constructor(page) {
    this.page = page;
    this.shownAt = 0;
    this.saidAt = -SAID_MS;
    this.waiting = null;
  }

  // Show the state; while the picture is held its words stand still too.
  show(board, { held: still, sounding }, redraw) {
    const { page } = this;
    this.#head(board);
    const { now, setup } = board;
    put(page.saying, board.saying);
    const listening = !board.lost && Boolean(now?.armed);
    this.#lamp(page.lampArmed, armedWords(board), listening && !now.quiet && !now.stalled);
    if (board.lost) return this.#showLost(board.lost);
    if (!now) put(page.words, "…");
    if (!now || !setup || still) return;
    this.#lamp(page.lampClean, cleanWords(now), now.cents !== null && now.clean >= TWO_REEDS);
    this.#lamp(page.lampBreath, breathWords(now.breath), now.breath > 0.01);
    page.lampBreath.style.setProperty("--breath", now.breath.toFixed(2));
    const since = performance.now() - this.shownAt;
    clearTimeout(this.waiting);
    if (since < READABLE_MS && !this.#other(now)) {
      this.waiting = setTimeout(redraw, READABLE_MS - since);
      return;
    }
    this.shownAt = performance.now();
    this.note = now.note?.id ?? null;
    put(page.words, placeWords(now, setup, sounding));
    put(page.cents, centsText(now, setup));
    page.cents.dataset.at = now.at;
    page.cents.dataset.middle = now.shaky;
  }

  // Nothing comes any more: nothing old stays, held or not.
  #showLost(reason) {
    const { page } = this;
    clearTimeout(this.waiting);
    this.#lamp(page.lampClean, "no note", false);
    this.#lamp(page.lampBreath, "no breath", false);
    page.lampBreath.style.setProperty("--breath", "0");
    put(page.words, reason);
    put(page.cents, "");
  }

  // Tell a screen reader; when more comes than can be said, the last of it is.
  tell(text) {
    clearTimeout(this.telling);
    const wait = Math.max(0, this.saidAt + SAID_MS - performance.now());
    this.telling = setTimeout(() => {
      this.saidAt = performance.now();
      put(this.page.told, text);
    }, wait);
  }

  #other(now) {
    return (now.note?.id ?? null) !== this.note;
  }

  #head({ setup, lost }) {
    const { page } = this;
    if (!setup) return put(page.position, lost);
    put(page.key, setup.harp ?? "?");
    const known = `harp, root ${setup.root}\n${setup.position} position`;
    put(page.position, setup.harp ? known : "which harp? Play a phrase and rest");
  }

  #lamp(lamp, words, on) {
    lamp.dataset.on = on;
    put(lamp.querySelector(".what"), words);
  }
}

// Only what has changed is written, so that nothing is laid out, or said, again.
export function put(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
