import type { Finding } from "../api";

/** Codes of what puts every length in doubt; as `foundation.findings.UNIT_DOUBTS`. */
export const UNIT_DOUBTS = new Set([
  "unit-contradicted",
  "unit-overruled",
  "drawn-at-a-scale",
  "size-unusual",
]);
const ORDER = { refusal: 1, warning: 2, note: 3 };

const rank = (one: Finding): number => (UNIT_DOUBTS.has(one.code) ? 0 : ORDER[one.severity]);

/** Findings with doubts of the unit first, then the weightiest. */
export const weightiestFirst = (all: Finding[]): Finding[] => all.sort((a, b) => rank(a) - rank(b));

const NATURAL = new Intl.Collator("en", { numeric: true });

/** Names of contours as people count them: H2 before H10. */
export const naturally = (a: string, b: string): number => NATURAL.compare(a, b);

/**
 * Places of findings in their list, those that say the same of several contours together: the
 * papers put them together by the same mark. Each group stands where its first does.
 */
export function alike(all: Finding[]): number[][] {
  const found = new Map<string, number[]>();
  all.forEach((one, i) => {
    const key = one.alike || String(i);
    found.set(key, [...(found.get(key) ?? []), i]);
  });
  const by = (i: number): string => all[i]!.where.contour_id ?? "";
  return [...found.values()].map((group) => group.sort((a, b) => naturally(by(a), by(b)) || a - b));
}
