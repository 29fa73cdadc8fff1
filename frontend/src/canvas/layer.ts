/** A picture of its own between the drawing and the marks on it. */
import type { Camera } from "./camera";
import type { Palette } from "./palette";

export interface Layer {
  draw(c: CanvasRenderingContext2D, camera: Camera, palette: Palette): void;
}

/** A layer that took longer is moved as it is while the view moves, and drawn when it rests. */
const SLOW_MS = 12;
/** It is drawn at most this share of the time, so that the marks over it keep up. */
const REST = 3;

/** The canvas of one layer. */
export class Sheet {
  readonly canvas = document.createElement("canvas");
  isStale = true;
  private cost = 0;
  private drawnAt = 0;
  private isWaiting = false;
  private readonly drawn = { cx: 0, cy: 0, scale: 0, width: 0, height: 0 };
  // Kept in memory like the lines: on a machine without a graphics card reading is what costs.
  private readonly context = this.canvas.getContext("2d", { willReadFrequently: true })!;

  constructor(readonly layer: Layer) {}

  /** Draw it if it is stale; returns after how many milliseconds to ask again, 0 for never. */
  bring(camera: Camera, palette: Palette, isMoving: boolean): number {
    if (!this.isStale) return 0;
    const now = performance.now();
    const rest = this.drawnAt + REST * this.cost - now;
    if (this.cost > SLOW_MS && (isMoving || rest > 0) && this.shift(camera)) {
      if (isMoving || this.isWaiting) return 0;
      this.isWaiting = true;
      return rest;
    }
    this.isStale = this.isWaiting = false;
    const c = this.context;
    c.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
    c.clearRect(0, 0, camera.width, camera.height);
    this.canvas.style.transform = "";
    this.layer.draw(c, camera, palette);
    // What was drawn is only written down until somebody looks; then its time is known.
    c.getImageData(0, 0, 1, 1);
    const { cx, cy, scale, width, height } = camera;
    Object.assign(this.drawn, { cx, cy, scale, width, height });
    this.drawnAt = performance.now();
    this.cost = this.drawnAt - now;
    return 0;
  }

  dispose(): void {
    this.canvas.remove();
  }

  /** Move what is drawn to where the camera looks now; false where it has another size. */
  private shift(camera: Camera): boolean {
    const d = this.drawn;
    if (d.width !== camera.width || d.height !== camera.height) return false;
    const grown = camera.scale / d.scale;
    const x = (d.cx - camera.cx) * camera.scale + (camera.width / 2) * (1 - grown);
    const y = (camera.cy - d.cy) * camera.scale + (camera.height / 2) * (1 - grown);
    this.canvas.style.transformOrigin = "0 0";
    this.canvas.style.transform = `translate(${x}px, ${y}px) scale(${grown})`;
    return true;
  }
}
