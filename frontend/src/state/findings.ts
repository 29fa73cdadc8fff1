import type { Finding } from "../api";

/** Codes of what puts every length in doubt; as `foundation.findings.UNIT_DOUBTS`. */
const UNIT_DOUBTS = new Set([
  "unit-contradicted",
  "unit-overruled",
  "drawn-at-a-scale",
  "size-unusual",
]);
const ORDER = { refusal: 1, warning: 2, note: 3 };

const rank = (one: Finding): number => (UNIT_DOUBTS.has(one.code) ? 0 : ORDER[one.severity]);

/** Findings with doubts of the unit first, then the weightiest. */
export const weightiestFirst = (all: Finding[]): Finding[] => all.sort((a, b) => rank(a) - rank(b));
