/** One chain as a path on the screen: points nearer than a pixel merged, runs out of sight left out. */
import type { Camera } from "./camera";
import type { Geometry } from "./geometry";

const MERGE_PX = 0.7;
/** While the view moves the eye sees no single pixel, and a path of half the points takes half the time. */
const MERGE_MOVING_PX = 1.5;
/** Half the widest line, and its dashes, beyond the edge. */
const EDGE_PX = 8;

/** Add chain `i` to the path; nothing where none of it is in sight. */
export function trace(
  c: CanvasRenderingContext2D,
  g: Geometry,
  chain: number,
  camera: Camera,
  isMoving = false,
): void {
  const view = camera.visible();
  const b = g.boxOf(chain);
  const dx = g.originX;
  const dy = g.originY;
  if (b.x1 + dx < view.x0 || b.x0 + dx > view.x1 || b.y1 + dy < view.y0 || b.y0 + dy > view.y1)
    return;
  const { scale, width, height } = camera;
  const ox = width / 2 + (dx - camera.cx) * scale;
  const oy = height / 2 + (camera.cy - dy) * scale;
  const merge = isMoving ? MERGE_MOVING_PX : MERGE_PX;
  const q = g.points;
  const last = g.starts[chain + 1]! - 1;
  let px = NaN;
  let py = NaN;
  // A run beyond one edge cannot be seen, and a chord in its place fills what it filled.
  let beyond = 0;
  let isHeld = false;
  for (let p = g.starts[chain]!; p <= last; p++) {
    const x = q[2 * p]! * scale + ox;
    const y = oy - q[2 * p + 1]! * scale;
    if (px !== px) {
      c.moveTo(x, y);
      beyond = sideOf(x, y, width, height);
      px = x;
      py = y;
      continue;
    }
    if (p < last && Math.abs(x - px) < merge && Math.abs(y - py) < merge) continue;
    const side = sideOf(x, y, width, height);
    if (p < last && (beyond & side) !== 0) {
      beyond &= side;
      isHeld = true;
    } else {
      if (isHeld) c.lineTo(px, py);
      c.lineTo(x, y);
      isHeld = false;
      beyond = side;
    }
    px = x;
    py = y;
  }
}

/** Which edges a place lies beyond, a bit each. */
function sideOf(x: number, y: number, width: number, height: number): number {
  return (
    (x < -EDGE_PX ? 1 : x > width + EDGE_PX ? 2 : 0) |
    (y < -EDGE_PX ? 4 : y > height + EDGE_PX ? 8 : 0)
  );
}
