// The teacher's panel of the exercises.

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

// What is in the fields is what is begun; a field that holds no such thing is pointed at instead.
function begin(lesson) {
  const tempo = byId("drill-tempo");
  const player = byId("player");
  player.value = player.value.trim();
  if (!tempo.reportValidity() || !player.reportValidity()) return;
  lesson.silence();
  lesson.drill.begin({
    exercise: byId("exercise").value,
    tempo: Number(tempo.value),
    player: player.value,
    clicks: byId("clicks").checked,
  });
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
}
