/** How far walls that lean are off, spot by spot and height by height, as the proof measured it. */
const MAGIC = "KWL1";
const HEAD = 24;

export class WallOff {
  readonly bands: number;
  /** First spot of band i; `first[bands]` is the number of spots. */
  readonly first: Uint32Array;
  /** Wall of each band, as in the space. */
  readonly wall: Uint32Array;
  readonly heightMm: Float32Array;
  /** Heights that a band stands for. */
  readonly lowerMm: Float32Array;
  readonly upperMm: Float32Array;
  /** Relative to the origin of the space, at the height of the band. */
  readonly x: Float32Array;
  readonly y: Float32Array;
  /** Ruling through each spot, mm aside per mm up. */
  readonly asideX: Float32Array;
  readonly asideY: Float32Array;
  /** Micrometres; above 0 stock is left, below 0 it is cut too deep. */
  readonly um: Float32Array;
  readonly isOutOfReach: Uint8Array;

  constructor(buffer: ArrayBuffer) {
    const view = new DataView(buffer);
    if (String.fromCharCode(...new Uint8Array(buffer, 0, 4)) !== MAGIC)
      throw new Error("no walls of kerfwright");
    const n = (this.bands = view.getUint32(4, true));
    this.first = new Uint32Array(buffer, HEAD, n + 1);
    let at = HEAD + 4 * (n + 1);
    this.wall = new Uint32Array(buffer, at, n);
    at += 4 * n;
    const floats = (count: number): Float32Array => {
      const found = new Float32Array(buffer, at, count);
      at += 4 * count;
      return found;
    };
    this.heightMm = floats(n);
    this.lowerMm = floats(n);
    this.upperMm = floats(n);
    const spots = this.first[n]!;
    this.x = floats(spots);
    this.y = floats(spots);
    this.asideX = floats(spots);
    this.asideY = floats(spots);
    this.um = floats(spots);
    this.isOutOfReach = new Uint8Array(buffer, at, spots);
  }
}
