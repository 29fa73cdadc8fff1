/** Who may log in, and what was done: for an owner. */
import { api, Refused, type Deed, type Fault, type Role, type SeatList } from "../api";
import { link } from "./link.svelte";

export class Seats {
  list = $state.raw<SeatList | null>(null);
  deeds = $state.raw<Deed[]>([]);
  isAll = $state(false);
  isBusy = $state(false);
  fault = $state.raw<Fault | null>(null);

  constructor() {
    void this.load();
  }

  async load(): Promise<void> {
    await this.attempt(async () => {
      this.list = await api.seats();
      this.deeds = (await api.deeds()).deeds;
      this.isAll = this.deeds.at(-1)?.number === 1;
    });
  }

  async earlier(): Promise<void> {
    await this.attempt(async () => {
      const { deeds } = await api.deeds(this.deeds.at(-1)?.number);
      this.deeds = [...this.deeds, ...deeds];
      this.isAll = this.deeds.at(-1)?.number === 1;
    });
  }

  add = (name: string, role: Role, customer: string, password: string): Promise<boolean> =>
    this.change(() => api.addSeat(name, role, customer, password));

  role = (name: string, role: Role, customer: string): Promise<boolean> =>
    this.change(() => api.changeSeat(name, { role, customer }));

  password = (name: string, password: string): Promise<boolean> =>
    this.change(() => api.changeSeat(name, { password }));

  remove = (name: string): Promise<boolean> => this.change(() => api.removeSeat(name));

  private async change(action: () => Promise<unknown>): Promise<boolean> {
    const isDone = await this.attempt(action);
    if (isDone) await this.load();
    return isDone;
  }

  private async attempt(action: () => Promise<unknown>): Promise<boolean> {
    this.isBusy = true;
    let isDone = false;
    try {
      await action();
      this.fault = null;
      isDone = true;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.fault = e.fault;
      link.untilBack(e.fault, () => void this.load());
    }
    this.isBusy = false;
    return isDone;
  }
}
