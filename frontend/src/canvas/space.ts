/** Walls and the leaning wire in space, read in place from the server's bytes. */
const MAGIC = "KWS1";
const HEAD = 32;

export interface Stand {
  /** Where the axis passes the underside, relative to the origin, mm. */
  x: number;
  y: number;
  /** By how much it lies aside, mm per mm up. */
  leanX: number;
  leanY: number;
  u: number;
  v: number;
  deg: number;
  cut: number;
}

export class Space {
  readonly walls: number;
  readonly points: number;
  readonly originX: number;
  readonly originY: number;
  readonly minute: Float64Array;
  readonly u: Float32Array;
  readonly v: Float32Array;
  readonly deg: Float32Array;
  readonly cut: Uint32Array;
  /** First ruling of wall i; `first[walls]` is the number of rulings. */
  readonly first: Uint32Array;
  readonly lowerMm: Float32Array;
  readonly upperMm: Float32Array;
  /** Ends of the rulings, relative to the origin. */
  readonly x0: Float32Array;
  readonly y0: Float32Array;
  readonly x1: Float32Array;
  readonly y1: Float32Array;
  private readonly axis: Float32Array[];

  constructor(buffer: ArrayBuffer) {
    const view = new DataView(buffer);
    if (String.fromCharCode(...new Uint8Array(buffer, 0, 4)) !== MAGIC)
      throw new Error("no space of kerfwright");
    const n = (this.walls = view.getUint32(4, true));
    const m = (this.points = view.getUint32(8, true));
    this.originX = view.getFloat64(16, true);
    this.originY = view.getFloat64(24, true);
    this.minute = new Float64Array(buffer, HEAD, m);
    let at = HEAD + 8 * m;
    const floats = (count: number): Float32Array => {
      const found = new Float32Array(buffer, at, count);
      at += 4 * count;
      return found;
    };
    this.axis = Array.from({ length: 7 }, () => floats(m));
    [this.u, this.v, this.deg] = this.axis.slice(4) as [Float32Array, Float32Array, Float32Array];
    this.cut = new Uint32Array(buffer, at, m);
    // The lines of the program follow; the listing has its own.
    at += 8 * m;
    this.first = new Uint32Array(buffer, at, n + 1);
    at += 4 * (n + 1);
    this.lowerMm = floats(n);
    this.upperMm = floats(n);
    const rulings = this.first[n]!;
    this.x0 = floats(rulings);
    this.y0 = floats(rulings);
    this.x1 = floats(rulings);
    this.y1 = floats(rulings);
  }

  /** Point of the wall at a height on a ruling of wall `w`. */
  at(w: number, ruling: number, heightMm: number): [number, number] {
    const [low, high] = [this.lowerMm[w]!, this.upperMm[w]!];
    const share = (heightMm - low) / (high - low);
    const [x, y] = [this.x0[ruling]!, this.y0[ruling]!];
    return [x + share * (this.x1[ruling]! - x), y + share * (this.y1[ruling]! - y)];
  }

  /** How the wire stands at a minute; null while it does not cut. */
  stand(minute: number): Stand | null {
    let low = 0;
    let high = this.points - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.minute[middle]! <= minute) low = middle;
      else high = middle - 1;
    }
    const next = Math.min(low + 1, this.points - 1);
    const [from, to] = [this.minute[low]!, this.minute[next]!];
    if (!this.points || minute < from) return null;
    if (this.cut[next] !== this.cut[low] && minute > from) return null;
    const share = to > from && this.cut[next] === this.cut[low] ? (minute - from) / (to - from) : 0;
    if (share > 1) return null;
    const value = (k: number): number => {
      const [a, b] = [this.axis[k]![low]!, this.axis[k]![next]!];
      return a + share * (b - a);
    };
    const [x, y, leanX, leanY, u, v, deg] = [0, 1, 2, 3, 4, 5, 6].map(value) as [
      number,
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    return { x, y, leanX, leanY, u, v, deg, cut: this.cut[low]! };
  }
}

export interface Box3 {
  x0: number;
  y0: number;
  z0: number;
  x1: number;
  y1: number;
  z1: number;
}

/** The smallest box around all walls. */
export function boxOf(space: Space): Box3 {
  const box = {
    x0: Infinity,
    y0: Infinity,
    z0: Infinity,
    x1: -Infinity,
    y1: -Infinity,
    z1: -Infinity,
  };
  for (let w = 0; w < space.walls; w++) {
    box.z0 = Math.min(box.z0, space.lowerMm[w]!);
    box.z1 = Math.max(box.z1, space.upperMm[w]!);
  }
  for (const [xs, ys] of [
    [space.x0, space.y0],
    [space.x1, space.y1],
  ] as const)
    for (let i = 0; i < xs.length; i++) {
      box.x0 = Math.min(box.x0, xs[i]!);
      box.x1 = Math.max(box.x1, xs[i]!);
      box.y0 = Math.min(box.y0, ys[i]!);
      box.y1 = Math.max(box.y1, ys[i]!);
    }
  return box;
}

export interface Lane {
  /** Path of least to greatest of each column, from −1 to 1 of the scale. */
  low: Float32Array;
  high: Float32Array;
}

/** Least and greatest of a value in each of `columns` equal parts of the time. */
export function lane(space: Space, values: Float32Array, totalMin: number, columns: number): Lane {
  const low = new Float32Array(columns).fill(Infinity);
  const high = new Float32Array(columns).fill(-Infinity);
  const perMin = columns / totalMin;
  const put = (column: number, value: number): void => {
    if (value < low[column]!) low[column] = value;
    if (value > high[column]!) high[column] = value;
  };
  for (let i = 1; i < space.points; i++) {
    if (space.cut[i] !== space.cut[i - 1]) continue;
    const [from, to] = [space.minute[i - 1]! * perMin, space.minute[i]! * perMin];
    const [a, b] = [values[i - 1]!, values[i]!];
    const last = Math.min(columns - 1, Math.floor(to));
    for (let c = Math.max(0, Math.floor(from)); c <= last; c++)
      for (const edge of [Math.max(c, from), Math.min(c + 1, to)])
        put(c, to > from ? a + ((edge - from) / (to - from)) * (b - a) : b);
  }
  return { low, high };
}
