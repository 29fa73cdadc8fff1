/** What a change of a job moved, and several changes as one. */
import type { Change, Draft, Job } from "../api";

export interface Moved {
  line: string;
  each: [number, number] | null;
  hours: [number, number] | null;
  passes: [number, number] | null;
  /** Contours that the price held before and holds no more, and those that it holds now only. */
  without: string[];
  with: string[];
}

/** A draft of before with the lines as they are asked now: only its answers are still on their way. */
export function asking(draft: Draft, job: Job): Draft {
  const asked = (name: string, before: string): string =>
    name in job.asked ? job.asked[name]! : name.includes(",") ? before : "";
  return {
    ...draft,
    ledger: draft.ledger.map((line) => ({ ...line, asked: asked(line.name, line.asked) })),
  };
}

/** Changes as one: lines one over the other, wishes of contours one after the other. */
export function joined(changes: Change[]): Change {
  const stage = changes.findLast((one) => one.stage)?.stage;
  return {
    ...(stage ? { stage } : {}),
    lines: Object.assign({}, ...changes.map((one) => one.lines ?? {})) as Record<string, string>,
    own: changes.flatMap((one) => one.own ?? []),
  };
}

const cut = (draft: Draft): string[] =>
  draft.contours.filter((one) => one.is_cut).map((one) => one.id);

export function difference(line: string, before: Job | null, after: Job): Moved | null {
  const old = before?.draft;
  const now = after.draft;
  // A first price has not moved.
  if (!old?.prices.length || !now?.prices.length) return null;
  const [a, b] = [old.prices[0], now.prices[0]];
  const pair = (x: number | undefined, y: number | undefined): [number, number] | null =>
    x !== undefined && y !== undefined && x !== y ? [x, y] : null;
  return {
    line,
    each: pair(a && Number(a.each), b && Number(b.each)),
    hours: pair(a && a.hours.likely / a.quantity, b && b.hours.likely / b.quantity),
    passes: pair(old.passes.length, now.passes.length),
    without: cut(old).filter((id) => !cut(now).includes(id)),
    with: cut(now).filter((id) => !cut(old).includes(id)),
  };
}

/** Whether what moved is of another price than stands now: another window changed the job, or the shop a figure. */
export function isOvertaken(moved: Moved | null, now: Job, shownRevision: number): boolean {
  if (shownRevision && now.revision > shownRevision) return true;
  const each = now.draft?.prices[0]?.each;
  return !!moved?.each && each !== undefined && Number(each) !== moved.each[1];
}
