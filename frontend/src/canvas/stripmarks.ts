/** On the strip: the moments at which pieces come free. */
import type { Freed } from "../api";
import { FONT, type Palette } from "./palette";

const HALF_PX = 5;

/** A falling triangle for each piece; a ring and a bang where there is something to mind. */
export function drawFreed(
  c: CanvasRenderingContext2D,
  palette: Palette,
  pieces: Freed[],
  x: (minute: number) => number,
  floor: number,
): void {
  c.textAlign = "center";
  c.textBaseline = "middle";
  c.lineWidth = 1.5;
  for (const piece of pieces) {
    const at = x(piece.minute);
    const top = floor - 2 * HALF_PX - 2;
    c.beginPath();
    c.moveTo(at - HALF_PX, top);
    c.lineTo(at + HALF_PX, top);
    c.lineTo(at, floor - 1);
    c.closePath();
    c.fillStyle = piece.caution ? palette.refusal : palette.paper;
    c.strokeStyle = piece.caution ? palette.refusal : palette.ink;
    c.fill();
    c.stroke();
    if (!piece.caution) continue;
    c.font = `800 13px ${FONT}`;
    c.fillText("!", at, top - 8);
  }
}
