/** How far the wall that a program leaves is off the drawing, along each contour. */
const MAGIC = "KWD1";
const HEAD = 24;

export class Deviations {
  readonly contours: number;
  /** First point of contour i; `first[contours]` is the number of points. */
  readonly first: Uint32Array;
  readonly originX: number;
  readonly originY: number;
  /** Relative to the origin. */
  readonly x: Float32Array;
  readonly y: Float32Array;
  /** Unit normal into the free side. */
  readonly nx: Float32Array;
  readonly ny: Float32Array;
  /** Micrometres; above 0 stock is left, below 0 it is cut too deep. */
  readonly um: Float32Array;
  /** 1 where no wire of this kerf gets. */
  readonly isOutOfReach: Uint8Array;
  /** Largest deviation of what the wire can reach. */
  readonly largestUm: number;
  readonly boxes: Float32Array;

  constructor(buffer: ArrayBuffer) {
    const view = new DataView(buffer);
    if (String.fromCharCode(...new Uint8Array(buffer, 0, 4)) !== MAGIC)
      throw new Error("no deviations of kerfwright");
    this.contours = view.getUint32(4, true);
    this.originX = view.getFloat64(8, true);
    this.originY = view.getFloat64(16, true);
    this.first = new Uint32Array(buffer, HEAD, this.contours + 1);
    const n = this.first[this.contours]!;
    const at = HEAD + 4 * (this.contours + 1);
    const column = (k: number): Float32Array => new Float32Array(buffer, at + 4 * n * k, n);
    this.x = column(0);
    this.y = column(1);
    this.nx = column(2);
    this.ny = column(3);
    this.um = column(4);
    this.isOutOfReach = new Uint8Array(buffer, at + 20 * n, n);
    let largest = 0;
    for (let i = 0; i < n; i++)
      if (!this.isOutOfReach[i] && Math.abs(this.um[i]!) > largest) largest = Math.abs(this.um[i]!);
    this.largestUm = largest;
    this.boxes = this.measured();
  }

  private measured(): Float32Array {
    const boxes = new Float32Array(4 * this.contours);
    for (let c = 0; c < this.contours; c++) {
      let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
      for (let i = this.first[c]!; i < this.first[c + 1]!; i++) {
        x0 = Math.min(x0, this.x[i]!);
        y0 = Math.min(y0, this.y[i]!);
        x1 = Math.max(x1, this.x[i]!);
        y1 = Math.max(y1, this.y[i]!);
      }
      boxes.set([x0, y0, x1, y1], 4 * c);
    }
    return boxes;
  }
}

/** Steps of the scale on each side of nought. */
export const STEPS = 3;

/** Between the lines across the ribbon at each step of the chosen scale, px: no colour says it. */
export const ACROSS_PX = [Infinity, 9, 5.5, 3.5];

/** A round end of the scale that holds a value: 1, 2 or 5 times a power of ten of its unit. */
export function roundEnd(value: number): number {
  if (!(value > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(value));
  const found = [1, 2, 5, 10].find((step) => step * power >= value * (1 - 1e-9));
  return (found ?? 10) * power;
}

/**
 * Number of the step of a value, from −STEPS (cut too deep) to STEPS (left standing): the last one
 * at the limit and beyond it. However small the largest deviation is, it alarms nobody.
 */
export function stepOf(um: number, limitUm: number): number {
  const step = Math.round((STEPS * um) / limitUm);
  return Math.max(-STEPS, Math.min(STEPS, step));
}
