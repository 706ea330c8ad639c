// The teacher's panel of the exercises.

import { name, wholeNumber } from "./fields.js";
import { put } from "./words.js";

const byId = (id) => document.getElementById(id);

export function setUpDrill(lesson) {
  byId("drill").addEventListener("click", () => (lesson.drill.running ? lesson.drill.stop() : begin(lesson)));
  byId("marks").addEventListener("click", () => lesson.drill.toggleMarks());
  byId("exercise").addEventListener("change", () => {
    lesson.drill.why = "";
    lesson.redraw();
  });
}

// What is in the fields is what is begun; at a field that holds no such thing it is said what may stand there.
function begin(lesson) {
  const { drill, board } = lesson;
  drill.why = board.saying = "";
  lesson.redraw();
  const allowed = byId("drill-allowed");
  const tempo = wholeNumber(byId("drill-tempo"), allowed);
  if (tempo === null) return byId("drill-tempo").focus();
  const player = name(byId("player"), allowed);
  if (player === null) return byId("player").focus();
  lesson.silence();
  drill.begin({ exercise: byId("exercise").value, tempo, player, clicks: byId("clicks").checked });
}

export function showDrill({ board, drill }) {
  const exercises = board.setup?.exercises ?? [];
  const field = byId("exercise");
  const names = exercises.map(({ name }) => name).join();
  if (field.dataset.names !== names) {
    field.dataset.names = names;
    field.replaceChildren(...exercises.map(({ name, title }) => new Option(title, name)));
  }
  put(byId("drill-said"), drill.running ? "Stop" : "Start");
  byId("drill").disabled = !board.setup?.root_hz || Boolean(board.lost);
  byId("marks").disabled = !drill.marks || Boolean(drill.running);
  byId("marks").setAttribute("aria-pressed", Boolean(drill.shown));
  const how = exercises.find(({ name }) => name === field.value)?.how ?? "";
  put(byId("drill-how"), drill.why || how);
  byId("drill-how").dataset.refused = Boolean(drill.why);
}
