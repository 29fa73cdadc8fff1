/** What it costs to ask for this: the answer that stands, and that of before until there is another. */
import type { Job, Savings } from "../api";

/** Nothing was typed, pressed or computed for so long: then it is priced again unasked. */
const REST_MS = 2500;

export class WhatIf {
  /** The last answer, of whatever was asked then. */
  private last = $state.raw<Savings | null>(null);
  /** Whether the last answer is of before the last change. */
  isBefore = $state(false);
  /** Whether the job was priced when that was taken. */
  private isPriced = false;
  private soon = 0;

  constructor(
    private readonly job: () => Job | null,
    private readonly ask: () => void,
  ) {
    for (const deed of DEEDS) addEventListener(deed, this.wait, { capture: true, passive: true });
  }

  /** What is shown: of before rather than nothing. */
  get shown(): Savings | null {
    return this.last;
  }

  dispose(): void {
    clearTimeout(this.soon);
    for (const deed of DEEDS) removeEventListener(deed, this.wait, { capture: true });
  }

  /** Take what the server says of the job. */
  take(job: Job): void {
    const isPriced = job.draft ? job.draft.prices.length > 0 : this.isPriced;
    if (job.savings) this.last = job.savings;
    // What is not offered has no price to compare with, and what lifted that is nothing to save.
    else if (isPriced !== this.isPriced) this.last = null;
    this.isPriced = isPriced;
    this.isBefore = !job.savings && this.last !== null;
    this.wait();
  }

  private readonly wait = (): void => {
    clearTimeout(this.soon);
    if (this.isBefore) this.soon = window.setTimeout(this.again, REST_MS);
  };

  private readonly again = (): void => {
    const job = this.job();
    const isBusy = !job || !job.draft || job.work.length > 0;
    // Stopped or refused, it is asked again by hand only.
    const isWanted = !job?.stopped.includes("savings") && !job?.savings_fault;
    if (this.isBefore && isWanted && !isBusy) this.ask();
    else if (isBusy) this.wait();
  };
}

const DEEDS = ["pointerdown", "keydown", "wheel"] as const;
