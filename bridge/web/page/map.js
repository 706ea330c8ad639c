// The picture: strip, ground, paths and mark on one canvas, drawn from what there is to show and from nothing else.

import { drawGround, drawNames, readLook } from "./ground.js";
import { drawBeginning, drawMark, drawModel, drawPath, drawReference, drawThread } from "./marks.js";
import { isInside, Scale } from "./scale.js";
import { drawStrip } from "./strip.js";

const NARROW = 600;
// So many ways before the last one are drawn in full.
const UNFADED = 3;

export class Picture {
  constructor(canvas) {
    this.canvas = canvas;
    this.pen = canvas.getContext("2d");
    this.ground = null;
    new ResizeObserver(() => this.renew()).observe(canvas);
  }

  // The look or the size has changed: everything is drawn anew with the next scene.
  renew() {
    this.ground = null;
    if (this.scene) requestAnimationFrame(() => this.draw(this.scene));
  }

  // `scene`: {setup, sides: [{title, paths, until, model, mark}], cents, breath, clean, aim, reference, dim}.
  draw(scene) {
    this.scene = scene;
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (!width || !height || !scene.setup) return;
    this.#keepGround(scene, width, height);
    const { pen, look, size, box, scales } = this;
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.drawImage(this.ground, 0, 0);
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    drawStrip(pen, box, scales[0], scene.setup, look, size * 0.8, scene.cents);
    scene.sides.forEach((side, index) => this.#drawSide(scene, side, scales[index]));
  }

  #drawSide(scene, side, scale) {
    const { pen, look, size } = this;
    pen.save();
    pen.beginPath();
    pen.rect(scale.left - size, scale.top, scale.width + size, scale.height);
    pen.clip();
    if (side.model.length) drawModel(pen, scale, side.model, look, size * 0.55);
    if (scene.reference !== null) drawReference(pen, scale, scene.reference, look, size);
    const living = side.mark ? side.paths.at(-1) : null;
    for (const [index, path] of side.paths.entries()) {
      if (!path.points.length) continue;
      // The older a way, the fainter, once there are many of them.
      const age = side.paths.length - 1 - index;
      pen.globalAlpha = side.fades && age > UNFADED ? UNFADED / (age + 1) ** 1.2 : 1;
      const bright = path === living || (!scene.dim && !living);
      drawPath(pen, scale, path, look, bright ? look.path : look.old, size * (bright ? 0.36 : 0.24), side.until(path));
      drawBeginning(pen, scale, path, look, size * 0.2);
    }
    pen.globalAlpha = 1;
    drawNames(pen, scale, scene.setup, look, size);
    if (side.mark && isInside(side.mark.cents, scene.setup)) {
      const mark = { ...side.mark, x: scale.x(side.mark.seconds) + size * 0.2 };
      if (scene.aim) drawThread(pen, scale, mark, scene.aim, look, size * 0.6);
      drawMark(pen, scale, mark, look, size * 0.6);
    }
    pen.restore();
  }

  #keepGround(scene, width, height) {
    const titles = scene.sides.map(({ title }) => title);
    const key = JSON.stringify([scene.setup, titles, width, height, devicePixelRatio]);
    if (this.ground && this.key === key) return;
    this.key = key;
    this.ratio = devicePixelRatio;
    this.look = readLook();
    this.canvas.width = Math.round(width * this.ratio);
    this.canvas.height = Math.round(height * this.ratio);
    this.size = Math.min(width / (width < NARROW ? 20 : 30), height / 13, 44);
    const strip = width < NARROW ? this.size * 3.7 : this.size * 4.2;
    this.box = { left: 0, top: this.size * 0.5, width: strip * 0.72, height: height - this.size };
    this.scales = sideScales(scene, strip, width, height, this.size);
    this.ground = new OffscreenCanvas(this.canvas.width, this.canvas.height);
    const pen = this.ground.getContext("2d");
    pen.scale(this.ratio, this.ratio);
    pen.fillStyle = this.look.paper;
    pen.fillRect(0, 0, width, height);
    scene.sides.forEach(({ title }, index) => {
      drawGround(pen, this.scales[index], scene.setup, this.look, this.size, title);
    });
  }
}

// One map, or two of them: side by side, and one above the other where it is narrow. A title stands above its map.
function sideScales({ setup, sides }, strip, width, height, size) {
  const room = width - strip;
  if (sides.length === 1) return [new Scale(setup, strip, 2, room - 2, height - 4)];
  const title = 2 * size;
  if (width < NARROW) {
    const each = height / 2 - title;
    return sides.map((_, index) => new Scale(setup, strip, title + index * (each + title), room - 2, each - 2));
  }
  const each = (room - size) / 2;
  return sides.map((_, index) => new Scale(setup, strip + index * (each + size), title, each, height - title - 2));
}
