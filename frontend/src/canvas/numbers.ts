/** The numbers of the contours: within one where it has room, else beside it, smaller if need be. */
import type { Contour } from "../api";
import type { Camera } from "./camera";
import type { Geometry } from "./geometry";
import type { Labels } from "./labels";
import type { Scene } from "./overlay";
import type { Palette } from "./palette";

/** Smaller than this a contour is a dot, and its number would be read as that of its neighbour. */
const LEAST_PX = 4;
/** A contour up to this size is kept free of the halo of any number. */
const SMALL_PX = 60;
const SIZES_PX = [12, 10, 9, 8];
const MEANT_PX = 14;
/** Between a contour and the number beside it, and around such a number. */
const BESIDE_PX = 1;
const TIGHT_PX = 1;
/** Between a number within its contour and the walls. */
const INSIDE_PX = 4;
/** Arm of a start hole's cross. */
const CROSS_PX = 5.5;

interface Box {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

export function numbers(camera: Camera, palette: Palette, scene: Scene, labels: Labels): void {
  const g = scene.geometry!;
  const boxes = scene.contours.map((contour, i) => boxOf(camera, g, contour, i));
  for (const { box } of boxes)
    if (Math.max(box.x1 - box.x0, box.y1 - box.y0) < SMALL_PX && isSeen(camera, box))
      labels.keepBox(box.x0, box.y0, box.x1, box.y1);
  const order = scene.contours
    .map((_, i) => i)
    .sort((a, b) => rank(scene, b) - rank(scene, a) || sizeOf(g, b) - sizeOf(g, a));
  for (const i of order) {
    const { box, wide, high } = boxes[i]!;
    const isMeant = i === scene.selected || i === scene.hovered || scene.picked.includes(i);
    if ((Math.max(wide, high) < LEAST_PX && !isMeant) || !isSeen(camera, box)) continue;
    const contour = scene.contours[i]!;
    const colour = isMeant
      ? palette.accent
      : contour.is_cut || contour.use
        ? palette.ink
        : palette.refusal;
    const size = isMeant ? MEANT_PX : SIZES_PX[0]!;
    const isWithin =
      contour.role === "outline" ||
      (wide >= labels.widthOf(contour.id, size) + 2 * INSIDE_PX && high >= size + 2 * INSIDE_PX);
    const [x, y] = labelPlace(camera, g, contour, i);
    const isLarge = Math.max(wide, high) >= SMALL_PX;
    // Its own box is kept free where it is small: within it a number is put without looking.
    const isHidden = !isMeant && labels.isUnderSign(contour.id, x, y, size);
    if (isWithin && !isHidden && labels.write(contour.id, x, y, colour, size, isMeant || !isLarge))
      continue;
    besideIt(labels, contour.id, box, colour, isMeant);
  }
}

/** Write a number beside a contour, the larger the better; one that is meant in any case. */
function besideIt(labels: Labels, id: string, box: Box, colour: string, isMeant: boolean): void {
  const [x, y] = [(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2];
  for (const size of isMeant ? [MEANT_PX, ...SIZES_PX] : SIZES_PX) {
    const half = labels.widthOf(id, size) / 2 + BESIDE_PX + TIGHT_PX;
    const up = size / 2 + BESIDE_PX + TIGHT_PX;
    const places = [
      [box.x1 + half, y],
      [box.x0 - half, y],
      [x, box.y0 - up],
      [x, box.y1 + up],
    ] as const;
    for (const [px, py] of places)
      if (labels.write(id, px, py, colour, size, false, TIGHT_PX)) return;
  }
  if (isMeant) labels.write(id, x, box.y0 - MEANT_PX, colour, MEANT_PX, true);
}

const isSeen = (camera: Camera, box: Box): boolean =>
  box.x1 > 0 && box.y1 > 0 && box.x0 < camera.width && box.y0 < camera.height;

/** What a contour takes on the screen together with its start, and how large it is itself. */
function boxOf(
  camera: Camera,
  g: Geometry,
  contour: Contour,
  i: number,
): { box: Box; wide: number; high: number } {
  const b = g.boxOf(i);
  const [x0, y0] = camera.toScreen(b.x0 + g.originX, b.y1 + g.originY);
  const [x1, y1] = camera.toScreen(b.x1 + g.originX, b.y0 + g.originY);
  const box = { x0, y0, x1, y1 };
  if (contour.start) {
    const [sx, sy] = camera.toScreen(contour.start[0], contour.start[1]);
    const arm = (contour.start[2] / 2) * camera.scale + CROSS_PX;
    box.x0 = Math.min(x0, sx - arm);
    box.x1 = Math.max(x1, sx + arm);
    box.y0 = Math.min(y0, sy - arm);
    box.y1 = Math.max(y1, sy + arm);
  }
  return { box, wide: x1 - x0, high: y1 - y0 };
}

const rank = (scene: Scene, i: number): number =>
  i === scene.selected ? 2 : i === scene.hovered ? 1 : 0;

function sizeOf(g: Geometry, i: number): number {
  const b = g.boxOf(i);
  return (b.x1 - b.x0) * (b.y1 - b.y0);
}

/** Openings are numbered in the middle; an outline above its upper edge, where nothing is cut. */
function labelPlace(camera: Camera, g: Geometry, contour: Contour, i: number): [number, number] {
  const b = g.boxOf(i);
  const middle = (b.x0 + b.x1) / 2 + g.originX;
  if (contour.role === "outline") {
    const [x, y] = camera.toScreen(middle, b.y1 + g.originY);
    return [x, y - 13];
  }
  const [x, y] = camera.toScreen(middle, (b.y0 + b.y1) / 2 + g.originY);
  if (!contour.start) return [x, y];
  const [sx, sy] = camera.toScreen(contour.start[0], contour.start[1]);
  const radius = (contour.start[2] / 2) * camera.scale + 12;
  const away = Math.hypot(x - sx, y - sy);
  if (away >= radius) return [x, y];
  // Across from the start hole, in the opening: between rows it would be read as the next one's.
  const [ux, uy] = away > 1 ? [(x - sx) / away, (y - sy) / away] : [0, -1];
  return [sx + ux * radius, sy + uy * radius];
}
