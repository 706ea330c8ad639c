// The page: messages in, picture and words out, and for the teacher the tools.

import { Board } from "./board.js";
import { Connection } from "./connection.js";
import { Lesson } from "./lesson.js";
import { Picture } from "./map.js";
import { showBeat, showResult } from "./result.js";
import { sceneOf } from "./scene.js";
import { setUpTools, showTools } from "./tools.js";
import { View } from "./view.js";
import { put, Words } from "./words.js";

const byId = (id) => document.getElementById(id);
const page = {
  key: byId("key"), position: byId("position"), words: byId("words"), cents: byId("cents"), saying: byId("saying"),
  told: byId("told"), cover: byId("cover"), tag: byId("tag"), map: byId("map"),
  lampArmed: byId("lamp-armed"), lampClean: byId("lamp-clean"), lampBreath: byId("lamp-breath"),
};

const board = new Board();
const picture = new Picture(page.map);
const words = new Words(page);
const view = new View(() => {
  shared = true;
  line.share(() => view.toShare());
  redraw();
});
const line = new Connection(take, (lost) => {
  if (lost !== board.lost) words.tell(lost || "connected");
  board.lost = lost;
  redraw();
});
const lesson = new Lesson(board, view, line, redraw, (text) => words.tell(text));
const { drill } = lesson;

let unseen = null;
let asked = false;
let held = null;
let welcomed = false;
let shared = false;

function take(message) {
  const before = board.now;
  board.take(message);
  if (message.is === "hello") drill.forget();
  if (message.setup) lesson.retune();
  if (message.is === "drill" || message.is === "marks") drill.take(message);
  if (message.is === "hello" && message.role === "teacher") welcomeTeacher();
  if (message.is === "shared" && view.follow(message.view)) lesson.watch();
  if (message.is === "ended" && !view.hidden) words.tell(message.note.words);
  if (message.is === "saying") words.tell(message.text);
  if (message.is === "now") {
    unseen = message.n;
    if (before && before.armed !== message.armed) words.tell(message.armed ? "listening" : "not listening");
    // A page that nobody sees is not drawn, but must not hold up the server.
    if (document.hidden) acknowledge();
  }
  redraw();
}

// A server that came back has forgotten what this page shared, and that it sounds.
function welcomeTeacher() {
  if (!welcomed) setUpTools(lesson);
  welcomed = true;
  lesson.sayAgain();
  if (shared) line.share(() => view.toShare());
}

function acknowledge() {
  if (unseen !== null) line.seen(unseen);
  unseen = null;
}

function redraw() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    draw();
    acknowledge();
  });
}

function draw() {
  const covered = coverWords();
  const scene = sceneOf(board, view, lesson.replayScene);
  held = view.held ? held ?? scene : null;
  put(page.cover, covered);
  page.cover.hidden = !covered;
  put(page.tag, view.held ? "held" : lesson.running ? "the last phrase again" : "");
  page.tag.hidden = !page.tag.textContent;
  page.map.hidden = Boolean(covered);
  if (!covered) picture.draw(held ?? scene);
  words.show(board, view.held, redraw);
  const told = Boolean(drill.shown);
  byId("place").hidden = told;
  byId("words").hidden = byId("cents").hidden = Boolean(covered) || told;
  showBeat(drill);
  showResult(drill);
  if (board.role === "teacher") showTools(lesson);
}

// What stands in place of the picture, nothing while it may be seen.
function coverWords() {
  if (view.hidden) return "Ears first: the picture is hidden";
  return view.after && board.sounds ? "You play: the picture comes after the note" : "";
}

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => picture.renew());
new MutationObserver(() => picture.renew()).observe(document.documentElement, { attributeFilter: ["data-look"] });
