/** World (mm, y up) to screen (CSS pixels, y down). */
export interface Box {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

const MOST_PX_PER_MM = 4000;
const LEAST_PX_PER_MM = 0.002;
/** A strip of the drawing that is narrower shows too little of it. */
const LEAST_FREE_PX = 160;

export class Camera {
  scale = 1;
  cx = 0;
  cy = 0;
  width = 1;
  height = 1;
  /** What lies over the left of the drawing, px: fitting and zooming keep clear of it. */
  left = 0;
  /** The same at the right: fitting keeps clear of it. */
  right = 0;

  toScreen(x: number, y: number): [number, number] {
    return [
      (x - this.cx) * this.scale + this.width / 2,
      (this.cy - y) * this.scale + this.height / 2,
    ];
  }

  toWorld(sx: number, sy: number): [number, number] {
    return [
      (sx - this.width / 2) / this.scale + this.cx,
      this.cy - (sy - this.height / 2) / this.scale,
    ];
  }

  /** Show a box whole; `beyond` is kept clear at the right beyond the margin. */
  fit(box: Box, beyond: number, margin = 44): void {
    // What lies over nearly all of a narrow drawing is looked past.
    const isCovered = this.width - this.left - this.right < LEAST_FREE_PX;
    const [left, right] = isCovered ? [0, 0] : [this.left, Math.max(this.right, beyond)];
    const wide = Math.max(box.x1 - box.x0, 1e-6);
    const high = Math.max(box.y1 - box.y0, 1e-6);
    this.scale = Math.min(
      Math.max(this.width - left - right - 2 * margin, 40) / wide,
      Math.max(this.height - 2 * margin, 40) / high,
      MOST_PX_PER_MM,
    );
    this.cx = (box.x0 + box.x1) / 2 + (right - left) / 2 / this.scale;
    this.cy = (box.y0 + box.y1) / 2;
  }

  /** Bring a place into the middle of what is free. */
  centre(x: number, y: number): void {
    this.cx = x - this.left / 2 / this.scale;
    this.cy = y;
  }

  pan(dx: number, dy: number): void {
    this.cx -= dx / this.scale;
    this.cy += dy / this.scale;
  }

  zoom(factor: number, sx = (this.width + this.left) / 2, sy = this.height / 2): void {
    const [x, y] = this.toWorld(sx, sy);
    this.scale = Math.min(MOST_PX_PER_MM, Math.max(LEAST_PX_PER_MM, this.scale * factor));
    const [x2, y2] = this.toWorld(sx, sy);
    this.cx += x - x2;
    this.cy += y - y2;
  }

  visible(): Box {
    const [x0, y1] = this.toWorld(0, 0);
    const [x1, y0] = this.toWorld(this.width, this.height);
    return { x0, y0, x1, y1 };
  }
}
