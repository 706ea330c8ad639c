// The teacher's tools: every button by mouse and by keyboard, the panels, and the single keys.

import { setUpDrill, showDrill } from "./drill-tools.js";
import { MODELS } from "./models.js";
import { put } from "./words.js";

const KEYS = ["G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#", "low-F", "low-D", "low-C", "high-G"];
const SINGLE = {
  " ": "arm", h: "hold", r: "replay", m: "sing", u: "under", d: "drone", l: "loop", f: "reference",
  x: "hide", a: "after", 1: "keep-1", 2: "keep-2", s: "beside", g: "drill", k: "marks", t: "tools-away", Escape: "silence",
};
// Where a key has a meaning of its own it is left alone.
const WRITING = "input:not([type=checkbox], [type=range]), select, textarea";

const byId = (id) => document.getElementById(id);

export function setUpTools(lesson) {
  fill(byId("model"), { ...MODELS, own: "my last note, sung again" });
  byId("model").value = lesson.view.model;
  byId("tools").hidden = false;
  const clicks = {
    arm: () => lesson.arm(),
    hold: () => lesson.hold(),
    replay: () => lesson.replay(),
    sing: () => lesson.singModel(),
    drone: () => lesson.drone(),
    loop: () => lesson.loop(Number(byId("speed").value)),
    reference: () => lesson.reference(Number(byId("reference-cents").value)),
    silence: () => lesson.silence(),
    hide: () => lesson.view.set({ hidden: !lesson.view.hidden }),
    after: () => lesson.view.set({ after: !lesson.view.after }),
    beside: () => lesson.view.set({ beside: !lesson.view.beside }),
    "keep-1": () => lesson.keep(0),
    "keep-2": () => lesson.keep(1),
    change: () => lesson.changeHarp(byId("harps").value),
    panic: () => lesson.panic(),
  };
  for (const [id, act] of Object.entries(clicks)) byId(id).addEventListener("click", act);
  listen("model", (field) => lesson.chooseModel(field.value));
  listen("under", (field) => lesson.view.set({ under: field.checked }));
  listen("tempo", (field) => field.checkValidity() && lesson.view.set({ tempo: Number(field.value) }));
  listen("speed", (field) => lesson.loopAt(Number(field.value)));
  listen("reference-cents", (field) => lesson.moveReference(Number(field.value)), "input");
  listen("loudness", (field) => lesson.tones.setLoudness(Number(field.value)), "input");
  listen("headphones", (field) => lesson.useHeadphones(field.checked));
  listen("look", (field) => lesson.look(field.value));
  setUpDrill(lesson);
  setUpPanels();
  document.addEventListener("keydown", pressed);
}

// Give the buttons the state that they switch, and the fields what the harp allows.
export function showTools(lesson) {
  const { board, view, tones } = lesson;
  press("arm", Boolean(board.now?.armed));
  press("hold", view.held);
  press("hide", view.hidden);
  press("after", view.after);
  press("beside", view.beside);
  press("drone", tones.held.has("drone"));
  press("reference", tones.held.has("reference"));
  press("loop", lesson.looping);
  byId("under").checked = view.under;
  const harp = Boolean(board.setup?.root_hz);
  for (const id of ["sing", "drone", "reference"]) byId(id).disabled = !harp;
  byId("replay").disabled = !harp || !board.phrase.length;
  byId("loop").disabled = !harp || (!board.lastNote && !lesson.looping);
  for (const id of ["keep-1", "keep-2"]) byId(id).disabled = !lesson.lastThirds.length;
  showDrill(lesson);
  if (board.setup) showHarp(lesson, board.setup);
}

function showHarp(lesson, setup) {
  const keys = [...new Set([...setup.harps, ...KEYS])];
  if (byId("harps").dataset.keys !== keys.join()) {
    byId("harps").dataset.keys = keys.join();
    fill(byId("harps"), Object.fromEntries(keys.map((key) => [key, key])));
    byId("harps").value = setup.harp ?? keys[0];
  }
  const range = byId("reference-cents");
  const ends = [Math.round(setup.minor - 50), Math.round(setup.straight + 40)].map(String);
  if (range.min !== ends[0] || range.max !== ends[1]) {
    [range.min, range.max] = ends;
    range.value = Math.round(setup.target);
  }
  put(byId("reference-said"), `${range.value} cents`);
}

function press(id, on) {
  if (byId(id).getAttribute("aria-pressed") !== String(on)) byId(id).setAttribute("aria-pressed", on);
}

function fill(select, names) {
  select.replaceChildren(...Object.entries(names).map(([value, name]) => new Option(name, value)));
}

function listen(id, act, event = "change") {
  byId(id).addEventListener(event, () => act(byId(id)));
}

// One panel at a time; the button that opened it closes it.
function setUpPanels() {
  const openers = [...document.querySelectorAll(".opens")];
  const show = (opener, on) => {
    opener.setAttribute("aria-expanded", on);
    byId(opener.getAttribute("aria-controls")).hidden = !on;
  };
  for (const opener of openers) {
    opener.addEventListener("click", () => {
      const on = opener.getAttribute("aria-expanded") !== "true";
      for (const other of openers) show(other, on && other === opener);
    });
  }
  byId("tools-away").addEventListener("click", () => {
    const away = !byId("tray").hidden;
    byId("tray").hidden = away;
    byId("tools-away").setAttribute("aria-expanded", !away);
    for (const opener of openers) show(opener, false);
  });
}

function pressed(event) {
  const id = SINGLE[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  const modified = event.ctrlKey || event.altKey || event.metaKey;
  if (!id || modified || event.repeat) return;
  // What sounds can be stopped from everywhere.
  if (event.key !== "Escape" && (event.target.closest(WRITING) || !byId("keys-on").checked)) return;
  // The space bar on a button or a box is that button's.
  if (event.key === " " && event.target.closest("button, input")) return;
  event.preventDefault();
  byId(id).click();
}
