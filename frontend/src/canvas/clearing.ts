/** The part of the drawing that no card lies over: px of the canvas, y down. */
import type { Box } from "./camera";

/** A part that is narrower or lower shows too little: then cards are looked past. */
const LEAST_WIDE_PX = 160;
const LEAST_HIGH_PX = 120;
/** What a square pixel more counts between parts that show a box alike. */
const ROOMIER = 1e-12;

const isOver = (a: Box, b: Box): boolean =>
  a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;

/** The clear part in which a box of this width and height is shown largest; the whole where there is none. */
export function clearing(
  whole: Box,
  cards: Box[],
  wide: number,
  high: number,
  margin: number,
): Box {
  const sides = (low: number, most: number, edges: number[]): number[] =>
    [low, most, ...edges.filter((one) => one > low && one < most)].sort((a, b) => a - b);
  const xs = sides(
    whole.x0,
    whole.x1,
    cards.flatMap((one) => [one.x0, one.x1]),
  );
  const ys = sides(
    whole.y0,
    whole.y1,
    cards.flatMap((one) => [one.y0, one.y1]),
  );
  let best = whole;
  let largest = 0;
  for (const [i, x0] of xs.entries())
    for (const x1 of xs.slice(i + 1))
      for (const [k, y0] of ys.entries())
        for (const y1 of ys.slice(k + 1)) {
          const one = { x0, y0, x1, y1 };
          if (x1 - x0 < LEAST_WIDE_PX || y1 - y0 < LEAST_HIGH_PX) continue;
          if (cards.some((card) => isOver(card, one))) continue;
          const scale = Math.min(
            Math.max(x1 - x0 - 2 * margin, 1) / wide,
            Math.max(y1 - y0 - 2 * margin, 1) / high,
          );
          // Of two that show it alike, the roomier one: the part stands freer in it.
          const size = scale * (1 + ROOMIER * (x1 - x0) * (y1 - y0));
          if (size > largest) [best, largest] = [one, size];
        }
  return best;
}
