/** What was taken away up to a minute, and the pieces that lie loose until they are taken out. */
import type { Freed, PassShape, Stretch } from "../api";
import type { Camera } from "./camera";
import type { Geometry } from "./geometry";
import { Labels } from "./labels";
import type { Layer } from "./layer";
import { dashOf, inkOf, type Palette } from "./palette";
import type { Wire } from "./wire";

const MERGE_PX = 0.8;
/** A kerf narrower than this is drawn as a line. */
const THIN_PX = 1.6;
const HATCH_PX = 7;
const LABEL_PX = 34;
const SAME_MIN = 1e-3;

export class CutLayer implements Layer {
  wire: Wire | null = null;
  stretches: Stretch[] = [];
  passes: PassShape[] = [];
  wireMm = 0.25;
  /** Minute of the job; negative shows nothing. */
  minute = -1;
  pieces: Freed[] = [];
  edges: Geometry | null = null;

  draw(c: CanvasRenderingContext2D, camera: Camera, palette: Palette): void {
    if (this.minute < 0) return;
    if (this.wire) this.kerf(c, camera, palette, this.wire);
    if (this.edges) this.loose(c, camera, palette, this.edges);
  }

  /** Width of the metal that a pass takes away, mm. */
  kerfOf(pass: number): number {
    const one = this.passes.find((p) => p.number === pass);
    return this.wireMm + (2 * (one?.gap_um ?? 0)) / 1000;
  }

  private kerf(c: CanvasRenderingContext2D, camera: Camera, palette: Palette, wire: Wire): void {
    const byPass = new Map<number, Path2D>();
    for (const s of this.stretches) {
      if (s.begin_min > this.minute) break;
      if (s.end_point <= s.first_point) continue;
      const pass = s.pass_number ?? 1;
      if (!byPass.has(pass)) byPass.set(pass, new Path2D());
      this.trace(byPass.get(pass)!, s, camera, wire);
    }
    const widest = Math.max(0, ...[...byPass.keys()].map((pass) => this.kerfOf(pass)));
    c.lineCap = "round";
    // Sharp joins are quicker, and no difference is seen on a narrow line.
    c.lineJoin = widest * camera.scale < 4 ? "bevel" : "round";
    const sweep = (colour: string, more: number): void => {
      c.strokeStyle = colour;
      for (const [pass, path] of byPass) {
        c.lineWidth = Math.max(this.kerfOf(pass) * camera.scale, THIN_PX) + more;
        c.stroke(path);
      }
    };
    // Edges first and what is gone over them, so that kerfs that meet are one.
    sweep(palette.muted, 2);
    sweep(palette.kerf, 0);
    c.lineCap = "butt";
    c.lineWidth = 1.8;
    for (const [pass, path] of byPass) {
      c.setLineDash(dashOf(pass));
      c.strokeStyle = inkOf(palette, pass);
      c.stroke(path);
    }
    c.setLineDash([]);
  }

  private trace(path: Path2D, s: Stretch, camera: Camera, wire: Wire): void {
    const { scale } = camera;
    const ox = camera.width / 2 + (wire.originX - camera.cx) * scale;
    const oy = camera.height / 2 + (camera.cy - wire.originY) * scale;
    const isDone = s.begin_min + s.minutes <= this.minute;
    const last = isDone ? s.end_point - 1 : wire.before(this.minute, s.first_point, s.end_point);
    let px = NaN;
    let py = NaN;
    for (let p = s.first_point; p <= last; p++) {
      const x = wire.x[p]! * scale + ox;
      const y = oy - wire.y[p]! * scale;
      if (px !== px) path.moveTo(x, y);
      else if (p < last && Math.abs(x - px) < MERGE_PX && Math.abs(y - py) < MERGE_PX) continue;
      else path.lineTo(x, y);
      px = x;
      py = y;
    }
    if (isDone) return;
    const [wx, wy] = wire.between(last, s.end_point, this.minute);
    path.lineTo(wx * scale + ox, oy - wy * scale);
  }

  /** Minute at which a piece is taken out: the end of the first stop after it came free. */
  outAt(piece: Freed): number {
    const stop = this.stretches.find(
      (s) => s.kind === "stop" && s.begin_min >= piece.minute - SAME_MIN,
    );
    return stop ? stop.begin_min + stop.minutes : Infinity;
  }

  private loose(c: CanvasRenderingContext2D, camera: Camera, palette: Palette, g: Geometry): void {
    const labels = new Labels(c, palette);
    for (const piece of this.pieces) {
      if (piece.minute > this.minute || this.outAt(piece) <= this.minute) continue;
      const path = new Path2D();
      for (let chain = piece.first_chain; chain < piece.end_chain; chain++) {
        for (let p = g.starts[chain]!; p < g.starts[chain + 1]!; p++) {
          const at = camera.toScreen(
            g.points[2 * p]! + g.originX,
            g.points[2 * p + 1]! + g.originY,
          );
          if (p === g.starts[chain]) path.moveTo(...at);
          else path.lineTo(...at);
        }
        path.closePath();
      }
      const colour = piece.caution ? palette.refusal : palette.ink;
      c.save();
      c.clip(path, "evenodd");
      c.globalAlpha = 0.55;
      hatch(c, camera, g.boxOf(piece.first_chain), g, colour, !!piece.caution);
      c.restore();
      c.setLineDash([6, 4]);
      c.lineWidth = 1.6;
      c.strokeStyle = colour;
      c.stroke(path);
      c.setLineDash([]);
      const b = g.boxOf(piece.first_chain);
      if (Math.min(b.x1 - b.x0, b.y1 - b.y0) * camera.scale < LABEL_PX) continue;
      const [x, y] = camera.toScreen((b.x0 + b.x1) / 2 + g.originX, (b.y0 + b.y1) / 2 + g.originY);
      labels.write(piece.caution ? "loose, mind it" : "loose", x, y + 17, colour, 11);
    }
  }
}

/** Lines across what is loose; crossed where there is something to mind. */
function hatch(
  c: CanvasRenderingContext2D,
  camera: Camera,
  box: { x0: number; y0: number; x1: number; y1: number },
  g: Geometry,
  colour: string,
  isCrossed: boolean,
): void {
  const [left, top] = camera.toScreen(box.x0 + g.originX, box.y1 + g.originY);
  const [right, bottom] = camera.toScreen(box.x1 + g.originX, box.y0 + g.originY);
  const x0 = Math.max(left, -HATCH_PX);
  const x1 = Math.min(right, camera.width + HATCH_PX);
  const y0 = Math.max(top, -HATCH_PX);
  const y1 = Math.min(bottom, camera.height + HATCH_PX);
  if (x1 <= x0 || y1 <= y0) return;
  const high = y1 - y0;
  c.beginPath();
  for (let x = Math.floor((x0 - high) / HATCH_PX) * HATCH_PX; x < x1 + high; x += HATCH_PX) {
    c.moveTo(x, y1);
    c.lineTo(x + high, y0);
    if (!isCrossed) continue;
    c.moveTo(x, y0);
    c.lineTo(x + high, y1);
  }
  c.lineWidth = 1;
  c.strokeStyle = colour;
  c.stroke();
}
