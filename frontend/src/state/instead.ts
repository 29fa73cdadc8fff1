/** What could be asked instead of a job that is refused, and where the reasons for it are kept. */
import type { Alternative, Draft, Finding, Savings } from "../api";

/** Whether nothing can be cut as asked, and no line is left to fill in that could change that. */
export function isRefusedWhole(draft: Draft | null): boolean {
  if (!draft || draft.prices.length || !(draft.not_offered || draft.is_refused)) return false;
  return draft.ledger.every((line) => line.asked || !line.is_needed);
}

/** The refusal that takes the price away, else the weightiest. */
export const refusalOf = (draft: Draft | null, findings: Finding[]): Finding | undefined =>
  findings.find((one) => one.message === draft?.not_offered) ??
  findings.find((one) => one.severity === "refusal");

/** Key of the reason of a step: what lifts a refusal saves from no price, and has its own. */
export const reasonOf = (savings: Savings, one: Alternative, number: number): string =>
  `saving ${number} ${savings.is_refused ? "price each so" : one.demand}`;

/** What the button of a step says. */
export const deedOf = (savings: Savings, one: Alternative): string =>
  savings.is_refused || +one.saved_each > 0 ? "Apply" : "Ask for it";
