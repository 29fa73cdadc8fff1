/** The list of jobs. */
import { api, Refused, type Added, type Card, type Fault, type JobList, type Reason } from "../api";
import { link } from "./link.svelte";
import { addressOf } from "./place.svelte";
import { Turns } from "./turns";

const AT_A_TIME = 25;

export class Desk {
  list = $state.raw<JobList | null>(null);
  search = $state("");
  fault = $state.raw<Fault | null>(null);
  isAdding = $state(false);
  why = $state.raw<Reason | null>(null);
  added = $state.raw<Added[]>([]);
  private timer = 0;
  private readonly turns = new Turns();
  private readonly stop: () => void;

  constructor() {
    this.stop = link.on(
      (message) => {
        if (message.type === "jobs" || message.type === "job") this.soon();
      },
      () => void this.load(),
    );
    void this.load();
  }

  dispose(): void {
    clearTimeout(this.timer);
    this.stop();
  }

  /** Load again in a moment: many messages make one request. */
  soon(): void {
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.load(), 150);
  }

  async load(): Promise<void> {
    await this.attempt(async () => {
      const [list, isLate] = await this.turns.ask(api.jobs(this.search));
      if (!isLate) this.list = list;
    });
  }

  async add(files: File[]): Promise<void> {
    if (!files.length) return;
    this.isAdding = true;
    await this.attempt(async () => {
      // The server takes so many at a time; a folder full of drawings goes in several turns.
      this.added = [];
      for (let at = 0; at < files.length; at += AT_A_TIME)
        this.added = [...this.added, ...(await api.add(files.slice(at, at + AT_A_TIME)))];
      const only = this.added.length === 1 ? this.added[0]!.job : null;
      if (only && !only.same_drawing.length) location.hash = addressOf(only.id);
      else await this.load();
    });
    this.isAdding = false;
  }

  async addSample(): Promise<void> {
    await this.attempt(async () => {
      location.hash = addressOf((await api.sample()).id);
    });
  }

  async remove(card: Card): Promise<void> {
    await this.attempt(async () => {
      await api.remove(card.id);
      await this.load();
    });
  }

  async explain(job: string, key: string): Promise<void> {
    await this.attempt(async () => {
      this.why = await api.reason(job, key);
    });
  }

  private async attempt(action: () => Promise<void>): Promise<void> {
    try {
      await action();
      this.fault = null;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.fault = e.fault;
    }
  }
}
