/** The still layer: the drawing itself. */
import type { Camera } from "./camera";
import { Kind, type Geometry } from "./geometry";
import type { Palette } from "./palette";
import { trace } from "./trace";

/** Above this many points the metal is not tinted while the view moves. */
const MANY_POINTS = 60_000;

export class Lines {
  readonly canvas = document.createElement("canvas");
  // On a machine without a graphics card reading is what costs; this keeps the picture in memory.
  private readonly context = this.canvas.getContext("2d", { willReadFrequently: true })!;
  private isMoving = false;

  draw(
    g: Geometry | null,
    camera: Camera,
    palette: Palette,
    isCut: (chain: number) => boolean,
    isLeft: (chain: number) => boolean,
    isMoving: boolean,
  ): void {
    this.isMoving = isMoving;
    const c = this.context;
    const ratio = devicePixelRatio;
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    c.clearRect(0, 0, camera.width, camera.height);
    if (!g) return;
    const hasOutline = g.kinds.some((kind) => kind === Kind.Outline);
    if (!isMoving || g.points.length / 2 < MANY_POINTS) {
      c.beginPath();
      for (let i = 0; i < g.count; i++) if (g.isContour(i)) trace(c, g, i, camera, isMoving);
      c.fillStyle = hasOutline ? palette.metal : palette.rule;
      c.globalAlpha = hasOutline ? 1 : 0.35;
      c.fill("evenodd");
      c.globalAlpha = 1;
    }
    // Findings speak of these too: fainter than what is cut, but to be seen on the metal.
    c.globalAlpha = 0.55;
    this.stroke(g, camera, palette.muted, 1, [4, 4], (i) => g.kinds[i] === Kind.Construction);
    c.globalAlpha = 1;
    this.stroke(g, camera, palette.accent, 1, [9, 2, 2, 2], (i) => g.kinds[i] === Kind.Lean);
    this.stroke(g, camera, palette.muted, 1.2, [14, 4, 3, 4], (i) => g.kinds[i] === Kind.Stock);
    this.stroke(g, camera, palette.ink, 1.3, [], (i) => g.isContour(i) && isCut(i));
    this.stroke(g, camera, palette.ink, 1.3, [], (i) => g.kinds[i] === Kind.Sketch);
    this.stroke(g, camera, palette.muted, 1.3, [7, 3], (i) => g.isPickable(i) && isLeft(i));
    this.stroke(
      g,
      camera,
      palette.refusal,
      1.6,
      [3, 3],
      (i) => g.isContour(i) && !isCut(i) && !isLeft(i),
    );
  }

  private stroke(
    g: Geometry,
    camera: Camera,
    colour: string,
    width: number,
    dash: number[],
    which: (chain: number) => boolean,
  ): void {
    const c = this.context;
    c.beginPath();
    let isAny = false;
    for (let i = 0; i < g.count; i++)
      if (which(i)) {
        trace(c, g, i, camera, this.isMoving);
        isAny = true;
      }
    if (!isAny) return;
    c.setLineDash(dash);
    c.lineWidth = width;
    c.lineJoin = "round";
    c.strokeStyle = colour;
    c.stroke();
    c.setLineDash([]);
  }
}
