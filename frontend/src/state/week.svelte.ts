/** The week of the shop: what people work by, what was tried, and what is done. */
import type { Fault } from "../api";
import { weekApi, type MarkSaid, type Week, type WeekDesk, type WeekWanted } from "../week-api";
import { attempt } from "./attempt";
import { link } from "./link.svelte";

const CLOCK_MS = 30_000;

export class WeekState {
  desk = $state.raw<WeekDesk | null>(null);
  work = $state.raw<{ step: string; share: number } | null>(null);
  fault = $state.raw<Fault | null>(null);
  isBusy = $state(false);
  private timer = 0;
  private readonly clock: number;
  private readonly stop: () => void;

  constructor() {
    this.stop = link.on(
      (message) => {
        if (message.type === "week-work") this.work = message;
        else if (message.type === "week" || message.type === "jobs" || message.type === "job")
          this.soon();
      },
      () => void this.load(),
    );
    // What is next, and what is overdue, goes with the time.
    this.clock = window.setInterval(() => void this.load(), CLOCK_MS);
    void this.load();
  }

  dispose(): void {
    clearTimeout(this.timer);
    clearInterval(this.clock);
    this.stop();
  }

  /** The week that is shown: what was tried goes before what people work by. */
  get shown(): Week | null {
    return this.desk?.tried ?? this.desk?.kept ?? null;
  }

  job(id: string): WeekDesk["jobs"][number] | undefined {
    return this.desk?.jobs.find((one) => one.job === id);
  }

  title(id: string): string {
    return this.job(id)?.title.replace(/\.(dxf|step|stp)$/i, "") ?? id;
  }

  private soon(): void {
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.load(), 100);
  }

  async load(): Promise<void> {
    const fault = await attempt(
      async () => this.take(await weekApi.week()),
      () => (this.fault = null),
    );
    if (fault) this.fault = fault;
  }

  private take(desk: WeekDesk): void {
    this.desk = desk;
    this.work = desk.work;
  }

  plan(wanted: WeekWanted): Promise<boolean> {
    return this.act(async () => this.take(await weekApi.plan(wanted)));
  }

  end(): Promise<boolean> {
    return this.act(() => weekApi.end());
  }

  forget(): Promise<boolean> {
    return this.act(async () => {
      await weekApi.forget();
      await this.load();
    });
  }

  keep(): Promise<boolean> {
    return this.act(async () => this.take(await weekApi.keep()));
  }

  mark(job: string, said: MarkSaid): Promise<boolean> {
    return this.act(async () => {
      await weekApi.mark(job, said);
      await this.load();
    });
  }

  unmark(job: string, mark: string): Promise<boolean> {
    return this.act(async () => {
      await weekApi.unmark(job, mark);
      await this.load();
    });
  }

  /** Do something; false where it was refused. */
  async act(action: () => Promise<void>): Promise<boolean> {
    this.isBusy = true;
    this.fault = await attempt(action, () => (this.fault = null));
    this.isBusy = false;
    return !this.fault;
  }
}
