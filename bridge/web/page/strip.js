// The whole octave as a narrow strip beside the map, with the piece that the map magnifies marked off on it.

import { letters, plate } from "./ground.js";

const LOW = -50;
const HIGH = 1150;

// `box` is {left, top, width, height}; `map` the scale whose left edge the marked piece opens to; `cents` may be null.
export function drawStrip(pen, box, map, setup, look, size, cents) {
  const y = (value) => box.top + (box.height * (HIGH - value)) / (HIGH - LOW);
  const line = box.left + box.width * 0.62;
  pen.fillStyle = look.rough;
  pen.beginPath();
  pen.moveTo(line, y(map.high));
  pen.lineTo(map.left, map.top + size * 0.4);
  pen.lineTo(map.left, map.top + map.height - size * 0.4);
  pen.lineTo(line, y(map.low));
  pen.closePath();
  pen.fill();
  pen.strokeStyle = look.soft;
  pen.lineWidth = 2;
  pen.stroke();
  pen.strokeStyle = look.ink;
  pen.lineWidth = 3;
  pen.beginPath();
  pen.moveTo(line, box.top);
  pen.lineTo(line, box.top + box.height);
  pen.stroke();
  const room = y(0) - y(100);
  const height = Math.min(size, room * 0.85);
  pen.font = letters(height, 600);
  pen.textBaseline = "middle";
  pen.textAlign = "right";
  for (const [degree, at] of setup.degrees) {
    if (at < LOW || at > HIGH) continue;
    const near = cents !== null && Math.abs(cents - at) <= 50;
    pen.font = letters(near ? height * 1.25 : height, near ? 800 : 500);
    pen.fillStyle = look.ink;
    pen.fillRect(line - 5, y(at) - 1, 10, 2);
    plate(pen, spelled(degree), line - 10, y(at), look, height);
  }
  pen.textBaseline = "alphabetic";
  pen.textAlign = "left";
  if (cents === null) return;
  pen.fillStyle = look.mark;
  pen.strokeStyle = look.paper;
  pen.lineWidth = 3;
  pen.beginPath();
  pen.arc(line, y(cents), Math.max(6, size * 0.34), 0, 2 * Math.PI);
  pen.fill();
  pen.stroke();
}

function spelled(degree) {
  return degree.replace("b", "♭").replace("#", "♯");
}
