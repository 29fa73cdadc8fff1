/** On the strip: the moments at which pieces come free. */
import type { Freed } from "../api";
import { FONT, type Palette } from "./palette";

const HALF_PX = 5;
const APART_PX = 2 * HALF_PX + 3;
const LEAST_COUNT_PX = 26;

export interface FreedMark {
  at: number;
  count: number;
  caution: boolean;
  /** Whether there is room for how many they are. */
  isCounted: boolean;
}

/** Marks that would lie over each other become one; where something is to be minded, it says so. */
export function freedMarks(pieces: Freed[], x: (minute: number) => number): FreedMark[] {
  const found: FreedMark[] = [];
  for (const piece of [...pieces].sort((a, b) => a.minute - b.minute)) {
    const at = x(piece.minute);
    const last = found.at(-1);
    if (last && at - last.at < APART_PX) {
      last.count++;
      last.caution ||= !!piece.caution;
    } else found.push({ at, count: 1, caution: !!piece.caution, isCounted: false });
  }
  let end = -Infinity;
  for (const mark of found)
    if (mark.count > 1 && mark.at - end >= LEAST_COUNT_PX) {
      mark.isCounted = true;
      end = mark.at;
    }
  return found;
}

/** A falling triangle for each piece; a bang where there is something to mind. */
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
  for (const mark of freedMarks(pieces, x)) {
    const { at } = mark;
    const top = floor - 2 * HALF_PX - 2;
    c.beginPath();
    c.moveTo(at - HALF_PX, top);
    c.lineTo(at + HALF_PX, top);
    c.lineTo(at, floor - 1);
    c.closePath();
    c.fillStyle = mark.caution ? palette.refusal : palette.paper;
    c.strokeStyle = mark.caution ? palette.refusal : palette.ink;
    c.fill();
    c.stroke();
    const text = `${mark.isCounted ? `×${mark.count}` : ""}${mark.caution ? "!" : ""}`;
    if (!text) continue;
    c.font = mark.isCounted ? `700 11px ${FONT}` : `800 13px ${FONT}`;
    // It stands on bars of any colour.
    c.lineJoin = "round";
    c.lineWidth = 3;
    c.strokeStyle = palette.paper;
    c.strokeText(text, at, top - 8);
    c.lineWidth = 1.5;
    c.fillStyle = mark.caution ? palette.refusal : palette.ink;
    c.fillText(text, at, top - 8);
  }
}
