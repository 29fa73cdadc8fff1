/** The light layer over the drawing: what is pointed at, numbers, marks, starts and the wire. */
import type { Contour, Finding, Stretch } from "../api";
import { length, type Unit } from "../words";
import type { Camera } from "./camera";
import type { Geometry } from "./geometry";
import { Labels } from "./labels";
import { drawMarks, keepMarks } from "./marks";
import type { Palette } from "./palette";
import { numbers } from "./numbers";
import { trace } from "./trace";
import type { Wire } from "./wire";

export interface Scene {
  geometry: Geometry | null;
  contours: Contour[];
  hovered: number;
  selected: number;
  /** Several that are picked together. */
  picked: number[];
  unit: Unit;
  marks: Finding[];
  mark: number;
  wire: Wire | null;
  stretches: Stretch[];
  /** Minute of the job; negative hides the wire. */
  minute: number;
  wireMm: number;
}

/** Room that a dimension takes beside and below a contour, px. */
const DIMENSION_WIDE_PX = 64;
const DIMENSION_HIGH_PX = 38;
const HALF_LABEL_PX = 24;

export function drawOverlay(
  c: CanvasRenderingContext2D,
  camera: Camera,
  palette: Palette,
  scene: Scene,
): void {
  const ratio = devicePixelRatio;
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, camera.width, camera.height);
  if (!scene.geometry) return;
  const { hovered, selected } = scene;
  if (selected >= 0) outline(c, camera, scene.geometry, selected, palette.accent, 3);
  for (const one of scene.picked) outline(c, camera, scene.geometry, one, palette.accent, 3);
  if (hovered >= 0 && hovered !== selected)
    outline(c, camera, scene.geometry, hovered, palette.accent, 1.8);
  starts(c, camera, palette, scene);
  if (scene.minute >= 0 && scene.wire) wireNow(c, camera, palette, scene, scene.wire);
  const labels = new Labels(c, palette);
  const marks = keepMarks(camera, scene, labels);
  if (selected >= 0) dimensions(c, camera, palette, scene, labels);
  numbers(camera, palette, scene, labels);
  drawMarks(c, palette, scene, marks);
}

function outline(
  c: CanvasRenderingContext2D,
  camera: Camera,
  g: Geometry,
  chain: number,
  colour: string,
  width: number,
): void {
  c.beginPath();
  trace(c, g, chain, camera);
  c.lineWidth = width;
  c.lineJoin = "round";
  c.strokeStyle = colour;
  c.stroke();
}

function starts(c: CanvasRenderingContext2D, camera: Camera, palette: Palette, scene: Scene): void {
  c.lineWidth = 1;
  c.strokeStyle = palette.ink;
  for (const contour of scene.contours) {
    if (!contour.start) continue;
    const [x, y, diameter] = contour.start;
    const [sx, sy] = camera.toScreen(x, y);
    const radius = Math.max((diameter / 2) * camera.scale, 2.5);
    c.beginPath();
    if (diameter > 0) c.arc(sx, sy, radius, 0, 2 * Math.PI);
    c.moveTo(sx - radius - 3, sy);
    c.lineTo(sx + radius + 3, sy);
    c.moveTo(sx, sy - radius - 3);
    c.lineTo(sx, sy + radius + 3);
    c.stroke();
  }
}

function dimensions(
  c: CanvasRenderingContext2D,
  camera: Camera,
  palette: Palette,
  scene: Scene,
  labels: Labels,
): void {
  const contour = scene.contours[scene.selected];
  if (!contour) return;
  const [x0, y0, x1, y1] = contour.bounds_mm;
  const [left, top] = camera.toScreen(x0, y1);
  const [right, bottom] = camera.toScreen(x1, y0);
  if (right - left < 24 && bottom - top < 24) return;
  // Beside the contour where there is room for it, else on its other side, else within it.
  const room = camera.clear();
  const [x, out] = beside(left, right, room.x0, camera.width, DIMENSION_WIDE_PX);
  const [y, down] = beside(top, bottom, 0, camera.height, DIMENSION_HIGH_PX);
  c.strokeStyle = palette.accent;
  c.lineWidth = 1;
  c.beginPath();
  c.moveTo(left, y + 16 * down);
  c.lineTo(right, y + 16 * down);
  c.moveTo(x + 16 * out, top);
  c.lineTo(x + 16 * out, bottom);
  for (const end of [left, right]) {
    c.moveTo(end, y + 4 * down);
    c.lineTo(end, y + 20 * down);
  }
  for (const end of [top, bottom]) {
    c.moveTo(x + 4 * out, end);
    c.lineTo(x + 20 * out, end);
  }
  c.stroke();
  const ink = palette.accent;
  const away = out > 0 ? Math.min(44, camera.width - right - HALF_LABEL_PX) : 44;
  const [wide, high] = [length(x1 - x0, scene.unit), length(y1 - y0, scene.unit)];
  labels.write(wide, (left + right) / 2, y + 28 * down, ink, 12, true);
  labels.write(high, x + away * out, (top + bottom) / 2, ink, 12, true);
}

/** Where a dimension stands between two edges, and to which side of there it goes. */
function beside(
  low: number,
  high: number,
  least: number,
  most: number,
  need: number,
): [number, number] {
  if (high + need <= most) return [high, 1];
  if (low - need >= least) return [low, -1];
  return [Math.min(high, most), -1];
}

/** The wire where it is at the minute; what it cut lies under it, see CutLayer. */
function wireNow(
  c: CanvasRenderingContext2D,
  camera: Camera,
  palette: Palette,
  scene: Scene,
  wire: Wire,
): void {
  const stretch = scene.stretches.findLast(
    (s) => s.begin_min <= scene.minute && s.end_point > s.first_point,
  );
  if (!stretch) return;
  const { first_point: first, end_point: end } = stretch;
  const [x, y] = wire.between(wire.before(scene.minute, first, end), end, scene.minute);
  const at = camera.toScreen(x + wire.originX, y + wire.originY);
  c.beginPath();
  c.arc(at[0], at[1], Math.max(5, (scene.wireMm / 2) * camera.scale), 0, 2 * Math.PI);
  c.fillStyle = palette.attended;
  c.strokeStyle = palette.paper;
  c.lineWidth = 2;
  c.fill();
  c.stroke();
  c.beginPath();
  c.arc(at[0], at[1], 11, 0, 2 * Math.PI);
  c.strokeStyle = palette.attended;
  c.lineWidth = 1.5;
  c.stroke();
}
