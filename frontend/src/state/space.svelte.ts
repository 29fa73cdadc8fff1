/** The part and the wire in space: fetched when they are looked at, dropped when they are not. */
import { api, Refused } from "../api";
import { Space } from "../canvas/space";
import { WallOff } from "../canvas/walloff";
import { faultSaid } from "../words";

export class SpaceState {
  space = $state.raw<Space | null>(null);
  off = $state.raw<WallOff | null>(null);
  isOffShown = $state(false);
  /** The worst place that is looked at; -1 for none. */
  worstAt = $state(-1);
  /** Why something could not be fetched. */
  trouble = $state("");
  private key = "";

  constructor(private readonly id: string) {}

  /** Fetch what belongs to a proof, once; without a key nothing is held. */
  async take(key: string): Promise<void> {
    if (key === this.key) return;
    this.key = key;
    this.off = null;
    this.worstAt = -1;
    if (!key) {
      this.space = null;
      return;
    }
    await this.fetched(key, async () => {
      const found = new Space(await api.cut(this.id, "space"));
      if (key === this.key) this.space = found;
      if (this.isOffShown) await this.measure(key);
    });
  }

  /** Switch the deviations on or off. */
  async show(isShown: boolean): Promise<void> {
    this.isOffShown = isShown;
    this.worstAt = -1;
    const key = this.key;
    if (isShown && key) await this.fetched(key, () => this.measure(key));
  }

  private async measure(key: string): Promise<void> {
    if (this.off) return;
    const found = new WallOff(await api.cut(this.id, "walls"));
    if (key === this.key) this.off = found;
  }

  private async fetched(key: string, action: () => Promise<void>): Promise<void> {
    try {
      await action();
      if (key === this.key) this.trouble = "";
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      // A change meanwhile takes the proof away; what it brings is fetched when it is there.
      if (key === this.key) this.trouble = e.status === 409 ? "" : faultSaid(e.fault);
    }
  }
}
