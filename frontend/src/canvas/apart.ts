/** Places moved so far apart that each can be pressed, and no further. */

export interface Spread {
  /** Least distance between two places. */
  apart: number;
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** More rounds than this bring nothing: then there is no room. */
const MOST_ROUNDS = 200;
const ENOUGH = 0.05;
/** A row of places with no room along itself: from this round on it is bent, by so much. */
const BENT_FROM = 40;
const BEND = 0.3;

/**
 * Each place near where it was, within the box, and no two nearer than `apart` where there is room.
 * One of those `held` gives way only to another of them.
 */
export function apart(
  places: [number, number][],
  box: Spread,
  held: boolean[] = [],
): [number, number][] {
  const found = places.map(([x, y]): [number, number] => [x, y]);
  for (let round = 0; round < MOST_ROUNDS; round++) {
    let most = 0;
    for (let i = 0; i < found.length; i++)
      for (let j = i + 1; j < found.length; j++) {
        const [a, b] = [found[i]!, found[j]!];
        const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        const size = Math.hypot(dx, dy);
        if (size >= box.apart) continue;
        // What lies on one place goes apart upwards: the order of the list stays.
        const [sx, sy] = size > 1e-6 ? [dx / size, dy / size] : [0, -1];
        const bend = round < BENT_FROM ? 0 : j % 2 ? BEND : -BEND;
        const [ux, uy] = [sx - bend * sy, sy + bend * sx];
        const push = box.apart - size;
        const share = !held[i] === !held[j] ? 0.5 : held[i] ? 0 : 1;
        a[0] -= ux * push * share;
        a[1] -= uy * push * share;
        b[0] += ux * push * (1 - share);
        b[1] += uy * push * (1 - share);
        most = Math.max(most, push);
      }
    for (const one of found) {
      one[0] = Math.min(box.right, Math.max(box.left, one[0]));
      one[1] = Math.min(box.bottom, Math.max(box.top, one[1]));
    }
    if (most < ENOUGH) break;
  }
  return found;
}
