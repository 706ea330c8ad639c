// Plays the sounds of the page: one, or one after the other, at full or half speed; one at a time, Escape stops.
"use strict";

const BETWEEN_MS = 350;
const sounds = [...document.querySelectorAll("audio")];
const still = matchMedia("(prefers-reduced-motion: reduce)");
const told = document.getElementById("told");
let current = null;
let turn = [];
let waiting = 0;

function stop() {
  clearTimeout(waiting);
  turn = [];
  current = null;
  for (const sound of sounds) sound.pause();
}

function start(sound, rate) {
  current = sound;
  sound.preservesPitch = true;
  sound.playbackRate = rate;
  sound.currentTime = 0;
  told.textContent = `${sound.getAttribute("aria-label")}${rate < 1 ? ", half speed" : ""}`;
  sound.play();
}

// A line walks over the map with the sound, unless motion is not wanted.
function walk(sound) {
  const line = document.getElementById(`now-${sound.id}`);
  const x = Number(sound.dataset.x) + Number(sound.dataset.perSecond) * sound.currentTime;
  line.setAttribute("transform", `translate(${x} 0)`);
  line.toggleAttribute("hidden", sound.paused || still.matches);
  if (!sound.paused && !still.matches) requestAnimationFrame(() => walk(sound));
}

for (const sound of sounds) {
  sound.addEventListener("play", () => {
    if (sound !== current) {
      clearTimeout(waiting);
      turn = [];
      current = sound;
      sound.playbackRate = 1;
    }
    for (const other of sounds) if (other !== sound) other.pause();
    if (sound.dataset.x) walk(sound);
  });
  sound.addEventListener("ended", () => {
    current = null;
    const next = turn.shift();
    if (next) waiting = setTimeout(() => start(next, sound.playbackRate), BETWEEN_MS);
  });
}

for (const bar of document.querySelectorAll(".bar")) {
  bar.hidden = false;
  bar.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    stop();
    const [first, ...rest] = button.dataset.play.split(" ").filter(Boolean).map((id) => document.getElementById(id));
    turn = rest;
    if (first) start(first, Number(button.dataset.rate));
  });
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") stop();
});
