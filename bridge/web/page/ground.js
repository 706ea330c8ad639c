// The ground of the map: its zones with a surface each, contour lines, names and the marks of time.

import { contoursOf, zonesOf } from "./scale.js";

const TIMES = [[0.5, "½ s"], [1, "1 s"], [2, "2 s"], [4, "4 s"]];

// Colours and letters of the style sheet, read anew when the look changes.
export function readLook() {
  const style = getComputedStyle(document.documentElement);
  const names = ["land", "rough", "water", "wave", "ink", "soft", "path", "mark", "old", "model", "paper", "second"];
  return Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}

export function letters(pixels, weight = 600) {
  return `${weight} ${Math.round(pixels)}px system-ui, "DejaVu Sans", sans-serif`;
}

// `size` is the height of the zones' names in pixels; `title` stands over a map that has a neighbour.
export function drawGround(pen, scale, setup, look, size, title = "") {
  const { left, top, width, height } = scale;
  pen.save();
  pen.beginPath();
  pen.roundRect(left, top, width, height, size * 0.4);
  pen.clip();
  for (const zone of zonesOf(setup)) drawZone(pen, scale, zone, look, size);
  pen.strokeStyle = look.wave;
  pen.lineWidth = 1.5;
  for (const cents of contoursOf(setup)) line(pen, left, scale.y(cents), left + width, scale.y(cents));
  drawTimes(pen, scale, look, size);
  pen.strokeStyle = look.ink;
  pen.lineWidth = 2;
  pen.setLineDash([size * 0.5, size * 0.4]);
  line(pen, left, scale.y(setup.minor), left + width, scale.y(setup.minor));
  pen.setLineDash([]);
  for (const side of [-2, 2]) {
    line(pen, left, scale.y(setup.straight) + side, left + width, scale.y(setup.straight) + side);
  }
  pen.restore();
  pen.font = letters(size * 0.75);
  pen.fillStyle = look.ink;
  pen.fillText(title, left + size * 0.2, top - size * 0.6, width - size * 0.3);
}

function drawZone(pen, scale, { surface, low, high }, look, size) {
  const top = scale.y(high);
  const bottom = scale.y(low);
  pen.fillStyle = surface === "water" ? look.water : surface === "rough" ? look.rough : look.land;
  pen.fillRect(scale.left, top, scale.width, bottom - top + 1);
  if (surface === "water") drawWaves(pen, scale, top, bottom, look, size);
  if (surface === "rough") drawStones(pen, scale, top, bottom, look, size);
}

// Short crests in rows that are shifted against each other, as maps draw water.
function drawWaves(pen, { left, width }, top, bottom, look, size) {
  const crest = size * 0.9;
  pen.strokeStyle = look.wave;
  pen.lineWidth = 1.5;
  pen.beginPath();
  for (let row = 0, y = top + size * 0.5; y < bottom - 4; row += 1, y += size * 0.75) {
    for (let x = left + (row % 2) * crest * 1.5; x < left + width; x += crest * 3) {
      pen.moveTo(x, y);
      pen.quadraticCurveTo(x + crest / 4, y - crest / 5, x + crest / 2, y);
      pen.quadraticCurveTo(x + (crest * 3) / 4, y + crest / 5, x + crest, y);
    }
  }
  pen.stroke();
}

function drawStones(pen, { left, width }, top, bottom, look, size) {
  pen.fillStyle = look.soft;
  for (let row = 0, y = top + size * 0.4; y < bottom; row += 1, y += size * 0.6) {
    for (let x = left + size * (0.4 + 0.5 * (row % 2)); x < left + width; x += size) pen.fillRect(x, y, 2, 2);
  }
}

function drawTimes(pen, scale, look, size) {
  pen.font = letters(size * 0.62, 500);
  pen.textAlign = "center";
  const enough = size * 2.2;
  let last = scale.left;
  for (const [seconds, words] of TIMES) {
    const x = scale.x(seconds);
    if (x - last < enough) continue;
    last = x;
    pen.strokeStyle = look.soft;
    pen.lineWidth = 2;
    line(pen, x, scale.top + scale.height - size * 0.35, x, scale.top + scale.height);
    plate(pen, words, x, scale.top + scale.height - size * 0.5, look, size * 0.62);
  }
  pen.textAlign = "left";
}

// The names of the zones, drawn last: they can be read over whatever way leads there.
export function drawNames(pen, scale, setup, look, size) {
  for (const zone of zonesOf(setup)) nameZone(pen, scale, zone, setup, look, size);
}

function nameZone(pen, scale, { name, low, high }, setup, look, size) {
  const bottom = scale.y(low);
  const top = scale.y(high);
  // A line has its name even where its zone is low; other names need room.
  const needed = name === "straight" || name === "minor" ? 0 : size * 0.8;
  if (bottom - top < needed) return;
  const y = name === "minor" ? scale.y(setup.minor) : (top + bottom) / 2;
  pen.font = letters(name === "blue" ? size * 1.5 : name.includes(" ") ? size * 0.75 : size, name === "blue" ? 700 : 600);
  pen.textAlign = "right";
  pen.textBaseline = "middle";
  const fits = pen.measureText(name).width < scale.width * 0.6;
  plate(pen, fits ? name : name.split(" ")[0], scale.left + scale.width - size * 0.5, y, look, size);
  pen.textAlign = "left";
  pen.textBaseline = "alphabetic";
}

// Words with a rim of the paper's colour, so that they can be read over any surface.
export function plate(pen, words, x, y, look, size, colour = look.ink) {
  pen.lineJoin = "round";
  pen.lineWidth = Math.max(4, size * 0.28);
  pen.strokeStyle = look.paper;
  pen.strokeText(words, x, y);
  pen.fillStyle = colour;
  pen.fillText(words, x, y);
}

function line(pen, fromX, fromY, toX, toY) {
  pen.beginPath();
  pen.moveTo(fromX, fromY);
  pen.lineTo(toX, toY);
  pen.stroke();
}
