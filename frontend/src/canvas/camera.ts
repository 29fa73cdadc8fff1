import { clearing } from "./clearing";

/** World (mm, y up) to screen (CSS pixels, y down). */
export interface Box {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

const MOST_PX_PER_MM = 4000;
const LEAST_PX_PER_MM = 0.002;
/** By how much the buttons at the right reach beyond the margin. */
const BUTTONS_PX = 22;

export class Camera {
  scale = 1;
  cx = 0;
  cy = 0;
  width = 1;
  height = 1;
  /** Cards that lie over the drawing, px from its left and top: what is shown keeps clear of them. */
  cards: Box[] = [];

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

  /** The part that no card covers, px, in which a box of this shape has most room. */
  clear(wide = this.width, high = this.height, margin = 0, beyond = 0): Box {
    const whole = { x0: 0, y0: 0, x1: Math.max(1, this.width - beyond), y1: this.height };
    return clearing(whole, this.cards, wide, high, margin);
  }

  /** Show a box whole in what is clear. */
  fit(box: Box, margin = 44): void {
    const wide = Math.max(box.x1 - box.x0, 1e-6);
    const high = Math.max(box.y1 - box.y0, 1e-6);
    const room = this.clear(wide, high, margin, BUTTONS_PX);
    this.scale = Math.min(
      Math.max(room.x1 - room.x0 - 2 * margin, 40) / wide,
      Math.max(room.y1 - room.y0 - 2 * margin, 40) / high,
      MOST_PX_PER_MM,
    );
    this.centre((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2, room);
  }

  /** Bring a place into the middle of what is clear. */
  centre(x: number, y: number, room = this.clear()): void {
    this.cx = x - ((room.x0 + room.x1) / 2 - this.width / 2) / this.scale;
    this.cy = y + ((room.y0 + room.y1) / 2 - this.height / 2) / this.scale;
  }

  /** The place in the middle of what is clear. */
  middle(): [number, number] {
    const room = this.clear();
    return this.toWorld((room.x0 + room.x1) / 2, (room.y0 + room.y1) / 2);
  }

  /** Move a box, px, into what is clear, where cards lie over it and it fits there. */
  uncover({ x0, y0, x1, y1 }: Box): void {
    const room = this.clear(Math.max(1, x1 - x0), Math.max(1, y1 - y0));
    const shift = (a: number, b: number, low: number, most: number): number =>
      b - a > most - low ? (low + most - a - b) / 2 : Math.max(low - a, Math.min(0, most - b));
    this.pan(shift(x0, x1, room.x0, room.x1), shift(y0, y1, room.y0, room.y1));
  }

  pan(dx: number, dy: number): void {
    this.cx -= dx / this.scale;
    this.cy += dy / this.scale;
  }

  zoom(factor: number, sx?: number, sy?: number): void {
    const room = this.clear();
    sx ??= (room.x0 + room.x1) / 2;
    sy ??= (room.y0 + room.y1) / 2;
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
