/** Lines that another window changed: told in both, each with the value that is gone. */
import type { Job } from "../api";

export interface Replaced {
  line: string;
  title: string;
  /** What stood there, and what stands there now. */
  gone: string;
  now: string;
  /** Whether it was this window that put its own in place of the other's. */
  isOurs: boolean;
}

type Asked = Record<string, string>;

/** A change of another window that is younger may not have been seen by who types here. */
const FRESH_MS = 60_000;

export class Elsewhere {
  replaced = $state.raw<Replaced[]>([]);
  /** Lines that this window set last, and how they were stored. */
  private readonly mine = new Map<string, string>();
  /** When another window changed a line. */
  private readonly theirs = new Map<string, number>();

  /** What came of a change of this window; `seen` is what stood in a line when it was opened. */
  changedHere(before: Job | null, after: Job, seen: Asked): void {
    for (const [line, gone, now] of differences(before, after)) {
      const isFresh = Date.now() - (this.theirs.get(line) ?? -Infinity) < FRESH_MS;
      const isUnseen = line in seen && seen[line] !== gone && this.mine.get(line) !== gone;
      this.mine.set(line, now);
      this.theirs.delete(line);
      this.settle(line);
      if (isFresh || isUnseen) this.tell(after, line, gone, now, true);
    }
  }

  /** What the server says of the job by itself; `isOurs` where this window sent it unanswered. */
  changedThere(
    before: Job | null,
    after: Job,
    isOurs: (line: string, now: string) => boolean,
  ): void {
    for (const [line, gone, now] of differences(before, after)) {
      if (isOurs(line, now)) {
        this.mine.set(line, now);
        this.theirs.delete(line);
        continue;
      }
      const isMine = this.mine.get(line) === gone;
      this.mine.delete(line);
      this.theirs.set(line, Date.now());
      if (isMine) this.tell(after, line, gone, now, false);
    }
  }

  settle(line: string): void {
    this.replaced = this.replaced.filter((one) => one.line !== line);
  }

  private tell(job: Job, line: string, gone: string, now: string, isOurs: boolean): void {
    this.settle(line);
    const title = titleOf(job, line);
    this.replaced = [...this.replaced, { line, title, gone, now, isOurs }];
  }
}

/** What is said where a change came too late: what the other window wrote. */
export function changedMeanwhile(before: Job | null, after: Job | null): string {
  if (!after) return "";
  return differences(before, after)
    .map(([line, gone, now]) => `${titleOf(after, line)}: ${inWords(gone)} → ${inWords(now)}`)
    .join("; ");
}

export const inWords = (text: string): string => (text ? `“${text}”` : "nothing asked");

/** How a line is called where it stands alone. */
export function titleOf(job: Job | null, line: string): string {
  const found = job?.draft?.ledger.find((one) => one.name === line)?.title;
  return found ?? line[0]!.toUpperCase() + line.slice(1);
}

function differences(before: Job | null, after: Job): [string, string, string][] {
  if (!before) return [];
  return [...new Set([...Object.keys(before.asked), ...Object.keys(after.asked)])]
    .map((line): [string, string, string] => [
      line,
      before.asked[line] ?? "",
      after.asked[line] ?? "",
    ])
    .filter(([, gone, now]) => gone !== now);
}
