// How an exercise has gone so far, as a small plot: a dot for each time, the nearer to the ground the nearer to its places.

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 320;
const HEIGHT = 120;
const LEFT = 44;
const EDGE = 12;
// A plot of small distances does not make them look large, in cents.
const LEAST_TOP = 40;

export function drawPlot(svg, off) {
  const top = Math.max(LEAST_TOP, ...off);
  const x = (place) => LEFT + EDGE + ((WIDTH - LEFT - 2 * EDGE) * place) / Math.max(off.length - 1, 1);
  const y = (cents) => HEIGHT - EDGE - ((HEIGHT - 2 * EDGE) * cents) / top;
  const parts = [0, top / 2, top].flatMap((cents) => [
    made("line", { class: "rule", x1: LEFT, x2: WIDTH, y1: y(cents), y2: y(cents) }),
    made("text", { x: LEFT - 6, y: y(cents) + 5 }, String(Math.round(cents))),
  ]);
  parts.push(made("polyline", { points: off.map((cents, place) => `${x(place)},${y(cents)}`).join(" ") }));
  off.forEach((cents, place) => {
    const last = place === off.length - 1;
    parts.push(made("circle", { cx: x(place), cy: y(cents), r: last ? 7 : 4.5, class: last ? "last" : "" }));
  });
  svg.setAttribute("viewBox", `0 0 ${WIDTH} ${HEIGHT}`);
  svg.replaceChildren(...parts);
}

function made(name, attributes, text = "") {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.textContent = text;
  return element;
}
