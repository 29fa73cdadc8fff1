/** A PDF or a picture of the drawing that is pinned beside it. */
import { api, Refused, type Pinned } from "../api";
import { link } from "./link.svelte";
import { faultSaid } from "../words";
import { Turns } from "./turns";

export class PinBoard {
  pinned = $state.raw<Pinned | null>(null);
  isOpen = $state(false);
  isBusy = $state(false);
  refusal = $state("");

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

  async pin(file: File): Promise<void> {
    await this.run(async () => {
      const [board, isLate] = await this.turns.ask(api.pin(this.job, file));
      if (isLate) return;
      this.pinned = board.pinned;
      this.show(true);
    });
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
