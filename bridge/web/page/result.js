// One time through an exercise as it is told: one thing to try next, the marks of each note, and how it has gone so far.

import { drawPlot } from "./plot.js";
import { put } from "./words.js";

const byId = (id) => document.getElementById(id);
// With so many notes the plot makes room for them.
const MANY = 4;
let told = null;

// The beat, large while it is counted in and small while it is played, and what is to be played.
export function showBeat(drill) {
  const { beat, running } = drill;
  byId("count").hidden = !beat;
  if (!beat) return;
  byId("count").dataset.counting = beat.counting;
  put(byId("count-beat"), beat.number ? String(beat.number) : "…");
  put(byId("count-said"), beat.counting ? "count-in" : "play");
  put(byId("count-how"), running.how);
}

export function showResult(drill) {
  const marks = drill.shown;
  const result = byId("result");
  result.hidden = !marks;
  if (!marks || told === marks) return;
  told = marks;
  put(byId("result-title"), `${marks.title}, ${marks.tempo} beats a minute · ${marks.player}`);
  put(byId("result-next"), marks.next);
  put(byId("result-off"), marks.off);
  byId("result-notes").replaceChildren(...marks.notes.map(line));
  byId("result-notes").dataset.many = marks.notes.length > MANY;
  put(byId("result-beat"), marks.beat);
  byId("result-plot").hidden = marks.progress.length < 2;
  put(byId("result-so-far"), marks.so_far);
  drawPlot(byId("plot"), marks.progress);
  result.scrollTop = 0;
}

function line(text) {
  const item = document.createElement("li");
  item.textContent = text;
  return item;
}
