/** Where the wire is at each minute, read in place from the server's bytes. */
const MAGIC = "KWW1";
const HEAD = 24;

export class Wire {
  readonly count: number;
  readonly originX: number;
  readonly originY: number;
  readonly minute: Float32Array;
  /** Relative to the origin. */
  readonly x: Float32Array;
  readonly y: Float32Array;

  constructor(buffer: ArrayBuffer) {
    const view = new DataView(buffer);
    if (String.fromCharCode(...new Uint8Array(buffer, 0, 4)) !== MAGIC)
      throw new Error("not a wire of kerfwright");
    this.count = view.getUint32(4, true);
    this.originX = view.getFloat64(8, true);
    this.originY = view.getFloat64(16, true);
    this.minute = new Float32Array(buffer, HEAD, this.count);
    this.x = new Float32Array(buffer, HEAD + 4 * this.count, this.count);
    this.y = new Float32Array(buffer, HEAD + 8 * this.count, this.count);
  }

  /** Index of the last point at or before a minute within a half-open range of points. */
  before(minute: number, first: number, end: number): number {
    let low = first;
    let high = end - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.minute[middle]! <= minute) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  /** Position at a minute between points `i` and `i + 1`, relative to the origin. */
  between(i: number, end: number, minute: number): [number, number] {
    const j = Math.min(i + 1, end - 1);
    const span = this.minute[j]! - this.minute[i]!;
    const t = span > 0 ? Math.min(1, Math.max(0, (minute - this.minute[i]!) / span)) : 0;
    return [this.x[i]! + t * (this.x[j]! - this.x[i]!), this.y[i]! + t * (this.y[j]! - this.y[i]!)];
  }
}
