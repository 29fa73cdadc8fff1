/** What the page asks of the shop's numbers. */
import { get } from "./api";
import type { components } from "./api-types";

type Shapes = components["schemas"];
export type Numbers = Shapes["NumbersShape"];
export type JobNumbers = Shapes["JobNumbersShape"];
export type Won = Shapes["WonShape"];
export type Share = Shapes["ShareShape"];

function query(begin: string | null, end: string | null, table = ""): string {
  const parts = new URLSearchParams();
  if (begin) parts.set("begin", begin);
  if (end) parts.set("end", end);
  if (table) parts.set("table", table);
  return `${parts}` ? `?${parts}` : "";
}

export const numbersApi = {
  numbers: (begin: string | null, end: string | null) =>
    get<Numbers>(`/numbers${query(begin, end)}`),
  csvAddress: (table: string, begin: string | null, end: string | null) =>
    `/api/numbers.csv${query(begin, end, table)}`,
};

/** A counted share as people should read it: the count, and where the share may lie. */
export const shareSaid = (share: Share): string =>
  share.of
    ? `${share.count} of ${share.of}, ${Math.round(100 * share.low)} to ${Math.round(100 * share.high)} %`
    : "none decided";
