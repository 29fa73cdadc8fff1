/** A PDF or a picture of the drawing that is pinned beside it. */
import { api, Refused, type Pinned } from "../api";
import { faultSaid } from "../words";

export class PinBoard {
  pinned = $state.raw<Pinned | null>(null);
  isOpen = $state(false);
  isBusy = $state(false);
  refusal = $state("");

  constructor(private readonly job: string) {
    void this.run(async () => {
      this.pinned = (await api.pinned(job)).pinned;
      this.isOpen = this.pinned !== null && sessionStorage.getItem(this.key) !== "closed";
    });
  }

  async pin(file: File): Promise<void> {
    await this.run(async () => {
      this.pinned = (await api.pin(this.job, file)).pinned;
      this.show(true);
    });
  }

  async takeAway(): Promise<void> {
    await this.run(async () => {
      await api.unpin(this.job);
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
    } finally {
      this.isBusy = false;
    }
  }
}
