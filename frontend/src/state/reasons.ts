import type { Draft } from "../api";
import { money } from "../words";

/** Where the reasons of a contour's numbers are found. */
export type Part = "length" | "start" | "x" | "y" | "tab" | "piece" | "time" | "cost";

export const placeOf = (contour: string, what: Part): string =>
  ({
    length: `plan/contours/${contour}/length_mm`,
    start: `plan/start_holes/${contour}/diameter_mm`,
    x: `plan/start_holes/${contour}/x_mm`,
    y: `plan/start_holes/${contour}/y_mm`,
    tab: `plan/tabs/${contour}/width_mm`,
    piece: `plan/slugs/${contour}/mass_kg`,
    time: `${contour} time on the machine`,
    cost: `${contour} cost on the machine`,
  })[what];

/** A way from one reason to another. */
export interface Way {
  key: string;
  words: string;
  value: string;
  /** To the number that this one is part of. */
  isUp?: boolean;
}

/** From a price down to its lines, and from a line back up. */
export function waysOf(key: string, draft: Draft | null): Way[] {
  const found = /^estimate\/prices\/(\d+)\/(each|likely|lines)\b/.exec(key);
  const price = draft?.prices.find((one) => `${one.quantity}` === found?.[1]);
  if (!found || !price) return [];
  const at = `estimate/prices/${price.quantity}`;
  if (found[2] === "lines")
    return [
      {
        key: `${at}/each`,
        words: "the price of a piece",
        value: money(price.each),
        isUp: true,
      },
    ];
  return price.lines.map((line) => ({
    key: `${at}/lines/${line.item}`,
    words: line.item,
    value: money(line.likely),
  }));
}
