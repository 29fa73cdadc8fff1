/** The chains of a drawing as flat arrays, read in place from the server's bytes. */
import type { Box } from "./camera";

export const enum Kind {
  Outline = 0,
  Opening = 1,
  Stock = 2,
  Construction = 3,
  /** A contour that a person said is no wall. */
  Aside = 4,
  /** A line of a drawing of which no part can be made yet. */
  Sketch = 5,
  /** An edge of a leaning wall that is not the contour as drawn. */
  Lean = 6,
}

const MAGIC = "KWG1";
const HEAD = 24;

export class Geometry {
  readonly count: number;
  readonly kinds: Uint32Array;
  /** First point of chain i; `starts[count]` is the number of points. */
  readonly starts: Uint32Array;
  /** Relative to the origin. */
  readonly points: Float32Array;
  readonly originX: number;
  readonly originY: number;
  readonly box: Box;
  private readonly boxes: Float32Array;
  private readonly cell: number;
  private readonly cells = new Map<number, number[]>();

  constructor(buffer: ArrayBuffer) {
    const view = new DataView(buffer);
    if (String.fromCharCode(...new Uint8Array(buffer, 0, 4)) !== MAGIC)
      throw new Error("not a drawing of kerfwright");
    this.count = view.getUint32(4, true);
    this.originX = view.getFloat64(8, true);
    this.originY = view.getFloat64(16, true);
    this.kinds = new Uint32Array(buffer, HEAD, this.count);
    this.starts = new Uint32Array(buffer, HEAD + 4 * this.count, this.count + 1);
    this.points = new Float32Array(buffer, HEAD + 4 * (2 * this.count + 1));
    this.boxes = new Float32Array(4 * this.count);
    for (let c = 0; c < this.count; c++) this.measure(c);
    this.box = this.union();
    const size = Math.max(this.box.x1 - this.box.x0, this.box.y1 - this.box.y0);
    this.cell = size / Math.ceil(Math.sqrt(this.points.length / 2)) || 1;
    this.index();
  }

  /** Whether chain i bounds something to cut. */
  isContour(chain: number): boolean {
    return this.kinds[chain]! <= Kind.Opening;
  }

  /** Whether chain i can be pointed at. */
  isPickable(chain: number): boolean {
    return this.isContour(chain) || this.kinds[chain] === Kind.Aside;
  }

  /** The chains that can be pointed at and lie wholly between two corners. */
  inside(x0: number, y0: number, x1: number, y1: number): number[] {
    const found: number[] = [];
    for (let c = 0; c < this.count; c++) {
      const b = this.boxOf(c);
      const isIn = b.x0 >= x0 && b.y0 >= y0 && b.x1 <= x1 && b.y1 <= y1;
      if (isIn && this.isPickable(c)) found.push(c);
    }
    return found;
  }

  /** The line that cannot be pointed at as a contour nearest to a place, within `reach` mm; −1 if none. */
  lineAt(x: number, y: number, reach: number): number {
    const dx = x - this.originX;
    const dy = y - this.originY;
    let best = -1;
    let least = reach;
    for (let c = 0; c < this.count; c++) {
      const b = this.boxOf(c);
      const isAway =
        dx < b.x0 - reach || dx > b.x1 + reach || dy < b.y0 - reach || dy > b.y1 + reach;
      if (isAway || this.isPickable(c) || this.kinds[c] === Kind.Lean) continue;
      const [px, py] = this.onChain(c, dx, dy);
      const away = Math.hypot(px - dx, py - dy);
      if (away < least) [best, least] = [c, away];
    }
    return best;
  }

  /** Box of a chain relative to the origin. */
  boxOf(chain: number): Box {
    const b = this.boxes;
    const k = 4 * chain;
    return { x0: b[k]!, y0: b[k + 1]!, x1: b[k + 2]!, y1: b[k + 3]! };
  }

  /** The contour whose line passes within `reach` of the point; else the smallest around it; else −1. */
  pick(x: number, y: number, reach: number): number {
    const near = this.nearest(x, y, reach);
    return near >= 0 ? near : this.around(x, y);
  }

  /** The place on chain i that is nearest to a place; both relative to the origin. */
  onChain(chain: number, x: number, y: number): [number, number] {
    const q = this.points;
    let [best, least]: [[number, number], number] = [[x, y], Infinity];
    for (let p = this.starts[chain]!; p < this.starts[chain + 1]! - 1; p++) {
      const t = this.share(p, x, y);
      const at: [number, number] = [
        q[2 * p]! + t * (q[2 * p + 2]! - q[2 * p]!),
        q[2 * p + 1]! + t * (q[2 * p + 3]! - q[2 * p + 1]!),
      ];
      const away = (x - at[0]) ** 2 + (y - at[1]) ** 2;
      if (away < least) [best, least] = [at, away];
    }
    return best;
  }

  private nearest(x: number, y: number, reach: number): number {
    let best = -1;
    let bestDistance = reach * reach;
    const columns = [this.column(x - reach), this.column(x + reach)] as const;
    const rows = [this.row(y - reach), this.row(y + reach)] as const;
    if ((columns[1] - columns[0] + 1) * (rows[1] - rows[0] + 1) > 4 * this.points.length) return -1;
    for (let j = rows[0]; j <= rows[1]; j++)
      for (let i = columns[0]; i <= columns[1]; i++) {
        const list = this.cells.get(key(i, j));
        if (!list) continue;
        for (let k = 0; k < list.length; k += 2) {
          const d = this.distance2(list[k + 1]!, x, y);
          if (d < bestDistance) {
            bestDistance = d;
            best = list[k]!;
          }
        }
      }
    return best;
  }

  private around(x: number, y: number): number {
    let best = -1;
    let bestArea = Infinity;
    for (let c = 0; c < this.count; c++) {
      if (!this.isPickable(c)) continue;
      const b = this.boxOf(c);
      if (x < b.x0 || x > b.x1 || y < b.y0 || y > b.y1) continue;
      const area = (b.x1 - b.x0) * (b.y1 - b.y0);
      if (area < bestArea && this.holds(c, x, y)) {
        best = c;
        bestArea = area;
      }
    }
    return best;
  }

  private holds(chain: number, x: number, y: number): boolean {
    const q = this.points;
    let isInside = false;
    const last = this.starts[chain + 1]! - 1;
    for (let p = this.starts[chain]!; p < last; p++) {
      const y0 = q[2 * p + 1]!;
      const y1 = q[2 * p + 3]!;
      if (y0 > y === y1 > y) continue;
      const x0 = q[2 * p]!;
      if (x < x0 + ((y - y0) / (y1 - y0)) * (q[2 * p + 2]! - x0)) isInside = !isInside;
    }
    return isInside;
  }

  private distance2(p: number, x: number, y: number): number {
    const q = this.points;
    const ax = q[2 * p]!;
    const ay = q[2 * p + 1]!;
    const dx = q[2 * p + 2]! - ax;
    const dy = q[2 * p + 3]! - ay;
    const t = this.share(p, x, y);
    return (x - ax - t * dx) ** 2 + (y - ay - t * dy) ** 2;
  }

  /** How far along the line that begins at point p its nearest place lies, from 0 to 1. */
  private share(p: number, x: number, y: number): number {
    const q = this.points;
    const ax = q[2 * p]!;
    const ay = q[2 * p + 1]!;
    const dx = q[2 * p + 2]! - ax;
    const dy = q[2 * p + 3]! - ay;
    const squared = dx * dx + dy * dy;
    return squared ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / squared)) : 0;
  }

  private measure(chain: number): void {
    let x0 = Infinity;
    let y0 = Infinity;
    let x1 = -Infinity;
    let y1 = -Infinity;
    for (let p = this.starts[chain]!; p < this.starts[chain + 1]!; p++) {
      const x = this.points[2 * p]!;
      const y = this.points[2 * p + 1]!;
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
    }
    this.boxes.set([x0, y0, x1, y1], 4 * chain);
  }

  private union(): Box {
    if (this.count === 0) return { x0: -10, y0: -10, x1: 10, y1: 10 };
    const box = { x0: Infinity, y0: Infinity, x1: -Infinity, y1: -Infinity };
    // What is drawn beside the part (frames, notes) does not push it aside.
    const hasContours = this.kinds.some((_, chain) => this.isPickable(chain));
    for (let c = 0; c < this.count; c++) {
      if (hasContours && this.kinds[c] === Kind.Construction) continue;
      const b = this.boxOf(c);
      box.x0 = Math.min(box.x0, b.x0);
      box.y0 = Math.min(box.y0, b.y0);
      box.x1 = Math.max(box.x1, b.x1);
      box.y1 = Math.max(box.y1, b.y1);
    }
    return box;
  }

  private index(): void {
    const q = this.points;
    for (let c = 0; c < this.count; c++) {
      if (!this.isPickable(c)) continue;
      for (let p = this.starts[c]!; p < this.starts[c + 1]! - 1; p++) {
        const rows = [q[2 * p + 1]!, q[2 * p + 3]!];
        const columns = [q[2 * p]!, q[2 * p + 2]!];
        for (let j = this.row(Math.min(...rows)); j <= this.row(Math.max(...rows)); j++)
          for (
            let i = this.column(Math.min(...columns));
            i <= this.column(Math.max(...columns));
            i++
          ) {
            const list = this.cells.get(key(i, j));
            if (list) list.push(c, p);
            else this.cells.set(key(i, j), [c, p]);
          }
      }
    }
  }

  private column(x: number): number {
    return Math.floor((x - this.box.x0) / this.cell);
  }

  private row(y: number): number {
    return Math.floor((y - this.box.y0) / this.cell);
  }
}

const key = (i: number, j: number): number => j * 65536 + i;
