/** The deviations as a ribbon along the wall: as far off as the wall is, drawn larger, and coloured. */
import type { Camera } from "./camera";
import { ACROSS_PX, STEPS, stepOf, type Deviations } from "./deviations";
import type { Layer } from "./layer";
import type { Palette } from "./palette";

/** Height of the ribbon at the end of the scale. */
export const RIBBON_PX = 22;
const MERGE_PX = 0.9;

export class DeviationLayer implements Layer {
  deviations: Deviations | null = null;
  /** End of the scale. */
  endUm = 1;
  /** Deviation of each contour at which the colours say that it is too much. */
  limitsUm: number[] = [];
  /** The place stepped to: x, y in mm. */
  place: [number, number] | null = null;

  draw(c: CanvasRenderingContext2D, camera: Camera, palette: Palette): void {
    const d = this.deviations;
    if (!d) return;
    const paths = Array.from({ length: 2 * STEPS + 1 }, () => new Path2D());
    const outOfReach = new Path2D();
    const edge = new Path2D();
    const across = new Path2D();
    const view = camera.visible();
    const reach = RIBBON_PX / camera.scale;
    for (let k = 0; k < d.contours; k++) {
      const [x0, y0, x1, y1] = d.boxes.subarray(4 * k, 4 * k + 4) as unknown as number[];
      if (x1! + d.originX + reach < view.x0 || x0! + d.originX - reach > view.x1) continue;
      if (y1! + d.originY + reach < view.y0 || y0! + d.originY - reach > view.y1) continue;
      this.contour(d, k, camera, paths, outOfReach, edge, across);
    }
    c.lineJoin = "round";
    paths.forEach((path, i) => {
      c.fillStyle = palette.deviations[i]!;
      c.fill(path);
    });
    c.lineWidth = 1;
    c.strokeStyle = palette.ink;
    c.stroke(edge);
    c.lineWidth = 0.8;
    c.stroke(across);
    c.setLineDash([2, 3]);
    c.lineWidth = 2.5;
    c.strokeStyle = palette.muted;
    c.stroke(outOfReach);
    c.setLineDash([]);
    this.ring(c, camera, palette);
  }

  private contour(
    d: Deviations,
    k: number,
    camera: Camera,
    paths: Path2D[],
    outOfReach: Path2D,
    edge: Path2D,
    across: Path2D,
  ): void {
    const { scale } = camera;
    const ox = camera.width / 2 + (d.originX - camera.cx) * scale;
    const oy = camera.height / 2 + (camera.cy - d.originY) * scale;
    const perUm = RIBBON_PX / this.endUm;
    const limitUm = this.limitsUm[k] ?? this.endUm;
    const last = d.first[k + 1]! - 1;
    let isOpen = false;
    /** Since the last line across, px. */
    let since = 0;
    let [bx, by, rx, ry] = [0, 0, 0, 0];
    for (let i = d.first[k]!; i <= last; i++) {
      const um = d.um[i]!;
      if (um !== um) {
        isOpen = false;
        continue;
      }
      const x = d.x[i]! * scale + ox;
      const y = oy - d.y[i]! * scale;
      if (isOpen && i < last && Math.abs(x - bx) < MERGE_PX && Math.abs(y - by) < MERGE_PX)
        continue;
      const shown = Math.max(-this.endUm, Math.min(this.endUm, um)) * perUm;
      const qx = x + d.nx[i]! * shown;
      const qy = y - d.ny[i]! * shown;
      if (isOpen && d.isOutOfReach[i]) {
        outOfReach.moveTo(bx, by);
        outOfReach.lineTo(x, y);
      } else if (isOpen) {
        const path = paths[stepOf(um, limitUm) + STEPS]!;
        path.moveTo(bx, by);
        path.lineTo(x, y);
        path.lineTo(qx, qy);
        path.lineTo(rx, ry);
        path.closePath();
        edge.moveTo(rx, ry);
        edge.lineTo(qx, qy);
        const apart = ACROSS_PX[Math.abs(stepOf(um, this.endUm))]!;
        const [long, along] = [Math.hypot(x - bx, y - by), apart - since];
        let t = Math.max(along, 0);
        for (; t <= long; t += apart) {
          const share = long ? t / long : 0;
          across.moveTo(bx + (x - bx) * share, by + (y - by) * share);
          across.lineTo(rx + (qx - rx) * share, ry + (qy - ry) * share);
        }
        since = Number.isFinite(apart) ? long - (t - apart) : 0;
      }
      isOpen = true;
      [bx, by, rx, ry] = [x, y, qx, qy];
    }
  }

  private ring(c: CanvasRenderingContext2D, camera: Camera, palette: Palette): void {
    if (!this.place) return;
    const [x, y] = camera.toScreen(...this.place);
    c.lineWidth = 5;
    c.strokeStyle = palette.paper;
    c.beginPath();
    c.arc(x, y, RIBBON_PX + 6, 0, 2 * Math.PI);
    c.stroke();
    c.lineWidth = 2;
    c.strokeStyle = palette.accent;
    c.stroke();
  }
}
