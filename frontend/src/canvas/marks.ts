/** Signs of findings on the drawing: those that would lie on each other are shown as one. */
import type { Finding } from "../api";
import type { Camera } from "./camera";
import type { Labels } from "./labels";
import type { Scene } from "./overlay";
import { FONT, type Palette } from "./palette";

export interface Sign {
  /** Where it stands, and the place that it speaks of. */
  x: number;
  y: number;
  at: [number, number];
  /** Its findings by their place in the list, the weightiest first. */
  findings: number[];
}

const SIZE_PX = 8;
const CHOSEN_PX = 11;
/** More signs than this are smaller, so that the numbers of contours have room. */
const CROWD = 20;
const CROWDED_PX = 6;
const OUTSIDE_PX = 20;
const TAG_PX = 11;
/** A letter of the number beside a sign, and the space around both. */
const LETTER_PX = 8;
const SPACE_PX = 9;
/** WCAG 2.2, criterion 2.5.8: what is pressed is so large, and does not reach the next. */
const TARGET_PX = 24;
/** The widest sign: more than "×9999" is not written often. */
const CELL_PX = 2 * SIZE_PX + SPACE_PX + 5 * LETTER_PX;

/** How many a sign stands for. No number of one: on the drawing numbers are those of contours. */
const textOf = (findings: number[]): string => (findings.length > 1 ? `×${findings.length}` : "");

/** How far a sign reaches to the right with its number, up to where the next may begin. */
const reachOf = (one: Sign): number =>
  2 * SIZE_PX + SPACE_PX + LETTER_PX * textOf(one.findings).length;

/** The signs as they stand on the screen; those that would lie on each other share one. */
export function signs(camera: Camera, scene: Scene): Sign[] {
  let found: Sign[] = [];
  scene.marks.forEach((finding, i) => {
    const { x_mm, y_mm } = finding.where;
    if (x_mm == null || y_mm == null) return;
    const [x, y] = camera.toScreen(x_mm, y_mm);
    if (x < -OUTSIDE_PX || y < -OUTSIDE_PX) return;
    if (x > camera.width + OUTSIDE_PX || y > camera.height + OUTSIDE_PX) return;
    found.push({ x, y, at: [x, y], findings: [i] });
  });
  // What stands together is set aside from the start holes together.
  found = joined(found).map((one) => {
    const [x, y] = beside(camera, scene, one.x, one.y);
    return { ...one, x, y };
  });
  // One that took others in is wider than before, and may reach the next.
  for (let count = -1; count !== found.length;) {
    count = found.length;
    found = joined(found);
  }
  return found;
}

function joined(all: Sign[]): Sign[] {
  const found: Sign[] = [];
  const cells = new Map<string, Sign[]>();
  const near = ({ x, y, ...rest }: Sign): Sign | undefined => {
    const [column, row] = [Math.floor(x / CELL_PX), Math.floor(y / CELL_PX)];
    for (let i = column - 1; i <= column + 1; i++)
      for (let j = row - 1; j <= row + 1; j++) {
        const one = cells.get(`${i} ${j}`)?.find((s) => {
          const reach = s.x < x ? reachOf(s) : reachOf({ x, y, ...rest });
          return Math.abs(s.x - x) < reach && Math.abs(s.y - y) < TARGET_PX;
        });
        if (one) return one;
      }
    return undefined;
  };
  for (const sign of all) {
    const shared = near(sign);
    if (shared) {
      shared.findings = [...shared.findings, ...sign.findings].sort((a, b) => a - b);
      continue;
    }
    const one = { ...sign };
    found.push(one);
    const cell = `${Math.floor(one.x / CELL_PX)} ${Math.floor(one.y / CELL_PX)}`;
    cells.set(cell, [...(cells.get(cell) ?? []), one]);
  }
  return found;
}

/** The finding to open where the drawing was pointed at, -1 for none; again for the next there. */
export function markAt(camera: Camera, scene: Scene, at: [number, number], reach: number): number {
  const [hit] = signs(camera, scene)
    .map((one) => ({ one, away: awayFrom(one, at) }))
    .filter(({ away }) => away <= Math.max(reach, TARGET_PX / 2))
    .sort((a, b) => a.away - b.away)
    .map(({ one }) => one);
  if (!hit) return -1;
  return hit.findings[(hit.findings.indexOf(scene.mark) + 1) % hit.findings.length]!;
}

/** How far a place is from a sign; the number beside it belongs to it. */
function awayFrom(one: Sign, [x, y]: [number, number]): number {
  const right = Math.max(0, reachOf(one) - 2 * SIZE_PX - SPACE_PX);
  return Math.hypot(x - Math.min(Math.max(x, one.x), one.x + right), y - one.y);
}

/** A sign that would lie on a start hole or its handle stands beside it. */
function beside(camera: Camera, scene: Scene, x: number, y: number): [number, number] {
  const reach = scene.contours.reduce((most, { start }) => {
    if (!start) return most;
    const [sx, sy] = camera.toScreen(start[0], start[1]);
    const radius = (start[2] / 2) * camera.scale;
    return Math.hypot(sx - x, sy - y) < radius + SIZE_PX + 5 ? Math.max(most, radius) : most;
  }, -1);
  const off = reach < 0 ? 0 : Math.max(2 * SIZE_PX + 8, reach * Math.SQRT1_2 + 2 * SIZE_PX);
  return [x + off, y - off];
}

/** How large a sign is drawn: the chosen one stands out, many are smaller. */
function sizeOf(one: Sign, scene: Scene, count: number): number {
  if (one.findings.includes(scene.mark)) return CHOSEN_PX;
  return count > CROWD ? CROWDED_PX : SIZE_PX;
}

/** Keep the places of the signs free of numbers, before any is written. */
export function keepMarks(camera: Camera, scene: Scene, labels: Labels): Sign[] {
  const all = signs(camera, scene);
  for (const one of all) {
    const size = sizeOf(one, scene, all.length);
    labels.keep(one.x, one.y, size + 2);
    const text = textOf(one.findings);
    if (text) labels.keepBox(...tagBox(one, size, LETTER_PX * text.length), true);
  }
  return all;
}

/** Draw the signs, over the numbers: what cannot stand clear of one is still seen. */
export function drawMarks(
  c: CanvasRenderingContext2D,
  palette: Palette,
  scene: Scene,
  all: Sign[],
): void {
  for (const sign of all) {
    const isChosen = sign.findings.includes(scene.mark);
    const shown = isChosen ? scene.mark : sign.findings[0]!;
    const { x, y, at } = sign;
    if (x !== at[0]) {
      c.beginPath();
      c.moveTo(...at);
      c.lineTo(x, y);
      c.lineWidth = 1;
      c.strokeStyle = palette.muted;
      c.stroke();
    }
    const { severity } = scene.marks[shown]!;
    const colour = colourOf(severity, palette);
    const size = sizeOf(sign, scene, all.length);
    shape(c, severity, x, y, size);
    c.lineJoin = "round";
    c.lineWidth = 4;
    c.strokeStyle = palette.paper;
    c.stroke();
    c.fillStyle = colour;
    c.fill();
    const text = textOf(sign.findings);
    if (text) tag(c, palette, text, sign, size, colour);
  }
}

/** Where the frame with the number beside a sign stands: left, top, right and bottom. */
const tagBox = (one: Sign, size: number, wide: number): [number, number, number, number] => {
  const left = one.x + size + 3;
  return [left, one.y - TAG_PX / 2 - 2, left + wide + 6, one.y + TAG_PX / 2 + 2];
};

/** A framed tag: what is written in a frame is no number of a contour. */
function tag(
  c: CanvasRenderingContext2D,
  palette: Palette,
  text: string,
  one: Sign,
  size: number,
  colour: string,
): void {
  c.font = `700 ${TAG_PX}px ${FONT}`;
  const [left, top, right, bottom] = tagBox(one, size, c.measureText(text).width);
  c.beginPath();
  c.roundRect(left, top, right - left, bottom - top, 4);
  c.fillStyle = palette.paper;
  c.fill();
  c.lineWidth = 1.2;
  c.strokeStyle = colour;
  c.stroke();
  c.textAlign = "center";
  c.textBaseline = "middle";
  c.fillStyle = colour;
  c.fillText(text, (left + right) / 2, one.y);
}

function colourOf(severity: Finding["severity"], palette: Palette): string {
  if (severity === "refusal") return palette.refusal;
  return severity === "warning" ? palette.warning : palette.muted;
}

/** A shape for each weight, so that nobody has to tell colours apart. */
function shape(
  c: CanvasRenderingContext2D,
  severity: Finding["severity"],
  x: number,
  y: number,
  size: number,
): void {
  const corners = severity === "refusal" ? 8 : severity === "warning" ? 3 : 24;
  const turn = corners === 8 ? 0.5 : 0;
  c.beginPath();
  for (let k = 0; k <= corners; k++) {
    const a = (2 * Math.PI * (k + turn)) / corners - Math.PI / 2;
    c.lineTo(x + size * Math.cos(a), y + size * Math.sin(a) + (corners === 3 ? 2 : 0));
  }
  c.closePath();
}
