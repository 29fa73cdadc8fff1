/** The wire's path as the program says it: each place with its minute and its line. */
const MAGIC = "KWP1";
const HEAD = 24;

export interface Hit {
  /** Point at which the nearest chord ends. */
  point: number;
  line: number;
  cut: number;
  minute: number;
  distance: number;
  x: number;
  y: number;
}

export class ProgramPath {
  readonly count: number;
  private readonly originX: number;
  private readonly originY: number;
  private readonly minute: Float64Array;
  private readonly x: Float32Array;
  private readonly y: Float32Array;
  private readonly line: Uint32Array;
  private readonly cut: Uint32Array;

  constructor(buffer: ArrayBuffer) {
    const view = new DataView(buffer);
    if (String.fromCharCode(...new Uint8Array(buffer, 0, 4)) !== MAGIC)
      throw new Error("not a path of kerfwright");
    const n = view.getUint32(4, true);
    this.count = n;
    this.originX = view.getFloat64(8, true);
    this.originY = view.getFloat64(16, true);
    this.minute = new Float64Array(buffer, HEAD, n);
    this.x = new Float32Array(buffer, HEAD + 8 * n, n);
    this.y = new Float32Array(buffer, HEAD + 12 * n, n);
    this.line = new Uint32Array(buffer, HEAD + 16 * n, n);
    this.cut = new Uint32Array(buffer, HEAD + 20 * n, n);
  }

  /** Of each cut the nearest chord within `reach` of a place, in order of time. */
  near(worldX: number, worldY: number, reach: number): Hit[] {
    const px = worldX - this.originX;
    const py = worldY - this.originY;
    const { x, y, cut } = this;
    const best = new Map<number, Hit>();
    for (let i = 1; i < this.count; i++) {
      if (cut[i] !== cut[i - 1]) continue;
      const ax = x[i - 1]!;
      const ay = y[i - 1]!;
      const dx = x[i]! - ax;
      const dy = y[i]! - ay;
      const squared = dx * dx + dy * dy;
      const t = squared ? Math.max(0, Math.min(1, ((px - ax) * dx + (py - ay) * dy) / squared)) : 0;
      const distance = Math.hypot(px - ax - t * dx, py - ay - t * dy);
      const found = best.get(cut[i]!);
      if (distance > reach || (found && found.distance <= distance)) continue;
      const before = this.minute[i - 1]!;
      best.set(cut[i]!, {
        point: i,
        line: this.line[i]!,
        cut: cut[i]!,
        minute: before + t * (this.minute[i]! - before),
        distance,
        x: this.originX + ax + t * dx,
        y: this.originY + ay + t * dy,
      });
    }
    return [...best.values()].sort((a, b) => a.minute - b.minute);
  }

  /** The end of a line's move, or where the next line that moves begins; null after the last. */
  endOf(line: number): Hit | null {
    let low = 0;
    let high = this.count;
    // Lines grow along the path, as the program runs from top to bottom.
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.line[middle]! < line) low = middle + 1;
      else high = middle;
    }
    if (low >= this.count) return null;
    const meant = this.line[low]!;
    if (meant !== line) return this.at(low);
    let last = low;
    while (last + 1 < this.count && this.line[last + 1] === meant) last++;
    return this.at(last);
  }

  /** Line that is being cut at a minute; 0 before the first. */
  lineAt(minute: number): number {
    if (!this.count || minute < this.minute[0]!) return 0;
    let low = 0;
    let high = this.count - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.minute[middle]! < minute) low = middle + 1;
      else high = middle;
    }
    return this.line[this.minute[low]! < minute ? this.count - 1 : low]!;
  }

  private at(point: number): Hit {
    return {
      point,
      line: this.line[point]!,
      cut: this.cut[point]!,
      minute: this.minute[point]!,
      distance: 0,
      x: this.originX + this.x[point]!,
      y: this.originY + this.y[point]!,
    };
  }
}
