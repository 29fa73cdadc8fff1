/** A PDF or a picture of the drawing that is pinned beside it. */
import { api, Refused, type Pinned } from "../api";
import { link } from "./link.svelte";
import { faultSaid } from "../words";
import { Turns } from "./turns";
import { unadded } from "./unadded.svelte";

/** Endings of files that jobs are made from. */
const TO_CUT = /\.(dxf|step|stp)$/i;

export class PinBoard {
  pinned = $state.raw<Pinned | null>(null);
  isOpen = $state(false);
  isBusy = $state(false);
  refusal = $state("");
  /** A file that waits for a person to say whether it may take the place of what is pinned. */
  waiting = $state.raw<File | null>(null);

  private readonly turns = new Turns();

  constructor(private readonly job: string) {
    void this.run(async () => {
      const [board, isLate] = await this.turns.ask(api.pinned(job));
      // A sheet may have been pinned while it was asked which one is.
      if (isLate) return;
      this.pinned = board.pinned;
      this.isOpen = this.pinned !== null && sessionStorage.getItem(this.key) !== "closed";
    });
  }

  /** Pin the one file that was dropped or chosen, or say why not. */
  take(files: File[]): void {
    const [file] = files;
    const drawing = files.find((one) => TO_CUT.test(one.name));
    this.refusal = "";
    this.waiting = null;
    // One sheet is pinned: another one takes the place of what waited.
    if (file && !drawing && files.length === 1) this.letGo();
    if (drawing)
      this.refusal = `${drawing.name} is a drawing to cut, and what is pinned here is only looked at. Drop it on the list of jobs: there it becomes a job of its own.`;
    else if (files.length > 1)
      this.refusal = `${files.length} files were dropped, and one is pinned. Drop that one alone.`;
    else if (file && this.pinned) this.waiting = file;
    else if (file) void this.pin(file);
  }

  async pin(file: File): Promise<void> {
    this.waiting = null;
    await this.run(async () => {
      try {
        const [board, isLate] = await this.turns.ask(api.pin(this.job, file));
        if (isLate) return;
        this.pinned = board.pinned;
        this.show(true);
      } catch (e) {
        if (!(e instanceof Refused) || e.status !== 0) throw e;
        unadded.keep(this.job, [file]);
      }
    });
  }

  /** A file that was not pinned, because no answer came. */
  get unpinned(): File[] {
    return unadded.of(this.job);
  }

  letGo(): void {
    unadded.drop(this.job, this.unpinned);
  }

  async takeAway(): Promise<void> {
    await this.run(async () => {
      await this.turns.ask(api.unpin(this.job));
      this.pinned = null;
      this.isOpen = false;
    });
  }

  show(isOpen: boolean): void {
    this.isOpen = isOpen;
    sessionStorage.setItem(this.key, isOpen ? "open" : "closed");
  }

  private get key(): string {
    return `kerfwright.pinned.${this.job}`;
  }

  private async run(action: () => Promise<void>): Promise<void> {
    this.isBusy = true;
    this.refusal = "";
    try {
      await action();
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.refusal = faultSaid(e.fault);
      link.untilBack(e.fault, () => (this.refusal = ""));
    } finally {
      this.isBusy = false;
    }
  }
}
