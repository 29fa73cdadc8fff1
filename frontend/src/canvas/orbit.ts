/** From where a part in space is looked at: round it, above or below, near or far. */
import type { Box3 } from "./space";

const MOST_TILT = 1.55;
const BEGIN = { turn: -0.9, tilt: 0.62 };
const MOST_PX_PER_MM = 2000;
const LEAST_PX_PER_MM = 0.02;
const MARGIN = 0.8;

type Way = [number, number, number];

export class Orbit {
  /** Round the vertical and above the horizon, rad. */
  turn = BEGIN.turn;
  tilt = BEGIN.tilt;
  /** Pixels per mm. */
  scale = 1;
  /** The place in the middle. */
  cx = 0;
  cy = 0;
  cz = 0;
  width = 1;
  height = 1;

  /** Unit vectors to the right, up the screen and towards the eye. */
  axes(): [Way, Way, Way] {
    const [s, c] = [Math.sin(this.turn), Math.cos(this.turn)];
    const [t, r] = [Math.sin(this.tilt), Math.cos(this.tilt)];
    return [
      [-s, c, 0],
      [-t * c, -t * s, r],
      [r * c, r * s, t],
    ];
  }

  toScreen(x: number, y: number, z: number): [number, number] {
    const [right, up] = this.axes();
    const d: Way = [x - this.cx, y - this.cy, z - this.cz];
    const along = (a: Way): number => a[0] * d[0] + a[1] * d[1] + a[2] * d[2];
    return [this.width / 2 + along(right) * this.scale, this.height / 2 - along(up) * this.scale];
  }

  rotate(dx: number, dy: number): void {
    this.turn -= dx;
    this.tilt = Math.max(-MOST_TILT, Math.min(MOST_TILT, this.tilt + dy));
  }

  zoom(factor: number): void {
    this.scale = Math.max(LEAST_PX_PER_MM, Math.min(MOST_PX_PER_MM, this.scale * factor));
  }

  /** Move what is seen along the screen, px. */
  pan(dx: number, dy: number): void {
    const [right, up] = this.axes();
    const move = (k: 0 | 1 | 2): number => (-dx * right[k] + dy * up[k]) / this.scale;
    this.cx += move(0);
    this.cy += move(1);
    this.cz += move(2);
  }

  /** Look at all of a box from where one stands, or from the beginning. */
  fit(box: Box3, isFromBeginning = true): void {
    if (isFromBeginning) Object.assign(this, BEGIN);
    this.cx = (box.x0 + box.x1) / 2;
    this.cy = (box.y0 + box.y1) / 2;
    this.cz = (box.z0 + box.z1) / 2;
    this.scale = 1;
    let [wide, high] = [1e-6, 1e-6];
    for (const x of [box.x0, box.x1])
      for (const y of [box.y0, box.y1])
        for (const z of [box.z0, box.z1]) {
          const [sx, sy] = this.toScreen(x, y, z);
          wide = Math.max(wide, 2 * Math.abs(sx - this.width / 2));
          high = Math.max(high, 2 * Math.abs(sy - this.height / 2));
        }
    this.zoom(MARGIN * Math.min(this.width / wide, this.height / high));
  }
}
