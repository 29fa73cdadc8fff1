/** Who is logged in, and what he may. */
import { api, asking, AWAY, Refused, type Fault, type Right, type Session } from "../api";
import { link } from "./link.svelte";

const AGAIN_MS = 1200;

class Seat {
  session = $state.raw<Session | null>(null);
  isNeeded = $state(false);
  fault = $state.raw<Fault | null>(null);
  isBusy = $state(false);

  constructor() {
    asking.lost = () => this.lose();
    void this.load();
  }

  /** Whether the role may do something; without log-in everybody may everything. */
  may(right: Right): boolean {
    return !this.session?.asks || this.session.may.includes(right);
  }

  async load(): Promise<void> {
    await this.attempt(async () => this.take(await api.session()));
  }

  async logIn(name: string, password: string): Promise<void> {
    await this.attempt(async () => this.take(await api.logIn(name, password)));
  }

  async logOut(): Promise<void> {
    await this.attempt(() => api.logOut());
    this.lose();
    // What stood here is somebody's: the next starts with an empty page.
    location.replace("/");
  }

  async changePassword(now: string, next: string): Promise<void> {
    await this.attempt(async () => {
      await api.changePassword(now, next);
      this.lose();
    });
  }

  private take(session: Session): void {
    asking.changeToken = session.change_token;
    this.session = session;
    this.isNeeded = false;
    link.begin();
  }

  private lose(): void {
    asking.changeToken = "";
    this.session = null;
    this.isNeeded = true;
    link.end();
  }

  private async attempt(action: () => Promise<void>): Promise<void> {
    this.isBusy = true;
    this.fault = null;
    try {
      await action();
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      // That somebody has to log in is what the page shows then, and no fault.
      if (e.fault.code !== "log-in-needed") this.fault = e.fault;
      // The link, which finds a server again, begins with the first answer.
      if (e.fault.code === AWAY.code && !this.session && !this.isNeeded)
        window.setTimeout(() => void this.load(), AGAIN_MS);
      else link.untilBack(e.fault, () => (this.fault = null));
    }
    this.isBusy = false;
  }
}

export const seat = new Seat();
