/** Which of the priced changes answer what a line of the ledger costs. */
import type { Alternative, Line } from "../api";

/** Demands that are priced a step looser and tighter, alone and together. */
export const DEMANDS = ["tolerance", "finish", "recast"];

export interface Answer {
  one: Alternative;
  /** Its place among all that were priced, from 1, as its reason is asked for. */
  number: number;
}

const isOf = (line: string, one: Alternative): boolean =>
  one.demand.split(/, | and /).includes(line);

/**
 * Of a demand the best step of its own, whether it saves, costs or changes nothing, and the best
 * step together with others, which stands at each of their lines.  Of any other line what saves.
 */
export function answersAt(line: Line, priced: Alternative[]): Answer[] {
  const all = priced.map((one, i) => ({ one, number: i + 1 }));
  const alone = all.filter(({ one }) => one.demand === line.name);
  if (!DEMANDS.includes(line.name))
    return alone.filter(({ one }) => +one.saved_each > 0).slice(0, 1);
  const together = all.filter(({ one }) => one.demand !== line.name && isOf(line.name, one));
  return [...alone.slice(0, 1), ...together.slice(0, 1)];
}
