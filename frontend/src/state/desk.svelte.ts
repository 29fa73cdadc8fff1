/** The list of jobs, and those that were taken off it. */
import {
  api,
  Refused,
  type Added,
  type Card,
  type Fault,
  type JobList,
  type Reason,
  type RemovedJob,
  type Stage,
} from "../api";
import { attempt } from "./attempt";
import { link } from "./link.svelte";
import { addressOf } from "./place.svelte";
import { A_PART, Sorting, type Column } from "./sorting.svelte";
import { Turns } from "./turns";
import { unadded } from "./unadded.svelte";

const AT_A_TIME = 25;
const PAUSE_MS = 150;
/** Where files are kept that are to become jobs. */
const LIST = "";

export class Desk {
  list = $state.raw<JobList | null>(null);
  fault = $state.raw<Fault | null>(null);
  isAdding = $state(false);
  why = $state.raw<Reason | null>(null);
  added = $state.raw<Added[]>([]);
  /** Jobs that were taken off the list, once somebody looks at them. */
  removed = $state.raw<RemovedJob[] | null>(null);
  areRemovedShown = $state(false);
  /** The job taken off the list last, to be brought back at once. */
  takenOff = $state.raw<Card | null>(null);
  /** The job that is on the list again. */
  broughtBack = $state("");
  readonly sort = new Sorting();
  private timer = 0;
  private readonly turns = new Turns();
  private readonly removedTurns = new Turns();
  private readonly reasonTurns = new Turns();
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
    this.timer = window.setTimeout(() => void this.load(), PAUSE_MS);
  }

  async load(): Promise<void> {
    await this.attempt(async () => {
      const [list, isLate] = await this.turns.ask(api.jobs(this.sort.wish));
      if (!isLate) this.list = list;
      if (this.areRemovedShown) await this.loadRemoved();
    });
  }

  /** Look for other words; each letter asks only when the hand rests. */
  look(): void {
    this.sort.keep();
    this.soon();
  }

  async sortBy(column: Column): Promise<void> {
    this.sort.press(column);
    await this.load();
  }

  async only(stage: Stage | ""): Promise<void> {
    this.sort.only(stage);
    await this.load();
  }

  /** Look for nothing, at every stage. */
  async all(): Promise<void> {
    this.sort.search = "";
    await this.only("");
  }

  async more(): Promise<void> {
    this.sort.most += A_PART;
    await this.load();
  }

  /** Files that were not added, because no answer came. */
  get unadded(): File[] {
    return unadded.of(LIST);
  }

  letGo(files: File[]): void {
    unadded.drop(LIST, files);
  }

  async add(files: File[]): Promise<void> {
    if (!files.length) return;
    this.isAdding = true;
    this.letGo(files);
    await this.attempt(async () => {
      // The server takes so many at a time; a folder full of drawings goes in several turns.
      this.added = [];
      for (let at = 0; at < files.length; at += AT_A_TIME)
        this.added = [...this.added, ...(await this.sent(files, at))];
      const only = this.added.length === 1 ? this.added[0]!.job : null;
      if (only && !only.same_drawing.length) location.hash = addressOf(only.id);
      else await this.load();
    });
    this.isAdding = false;
  }

  /** Send a part of the files; where no answer comes, all from there on wait. */
  private async sent(files: File[], at: number): Promise<Added[]> {
    try {
      return await api.add(files.slice(at, at + AT_A_TIME));
    } catch (e) {
      if (e instanceof Refused && e.status === 0) {
        unadded.keep(LIST, files.slice(at));
        // Added all the same, it is in the list.
        this.soon();
      }
      throw e;
    }
  }

  async addSample(): Promise<void> {
    await this.attempt(async () => {
      location.hash = addressOf((await api.sample()).id);
    });
  }

  async remove(card: Card): Promise<void> {
    await this.attempt(async () => {
      await api.remove(card.id);
      this.takenOff = card;
      this.broughtBack = "";
      await this.load();
    });
  }

  async showRemoved(areShown: boolean): Promise<void> {
    this.areRemovedShown = areShown;
    if (areShown) await this.attempt(() => this.loadRemoved());
  }

  /** Put a job back on the list by the name that it has among those removed. */
  async bringBack(name: string): Promise<void> {
    await this.attempt(async () => {
      this.broughtBack = (await api.bringBack(name)).id;
      this.takenOff = null;
      await this.load();
    });
  }

  /** Bring back the job that was taken off last; several of its name may have been before. */
  async bringBackLast(): Promise<void> {
    const card = this.takenOff;
    if (!card) return;
    let name = "";
    await this.attempt(async () => {
      const alike = (await api.removed()).jobs.filter((one) => one.id === card.id);
      alike.sort((a, b) => Date.parse(b.removed || "0") - Date.parse(a.removed || "0"));
      name = alike.find((one) => one.added === card.added)?.name ?? "";
    });
    if (name) await this.bringBack(name);
  }

  async deleteForGood(name: string): Promise<void> {
    await this.attempt(async () => {
      await api.deleteForGood(name);
      this.takenOff = null;
      await this.loadRemoved();
    });
  }

  async explain(job: string, key: string): Promise<void> {
    await this.attempt(async () => {
      const [reason, isLate] = await this.reasonTurns.ask(api.reason(job, key));
      if (!isLate) this.why = reason;
    });
  }

  private async loadRemoved(): Promise<void> {
    const [found, isLate] = await this.removedTurns.ask(api.removed());
    // What was taken off last is looked for first.
    if (!isLate) this.removed = [...found.jobs].sort((a, b) => b.removed.localeCompare(a.removed));
  }

  private async attempt(action: () => Promise<void>): Promise<void> {
    this.fault = await attempt(action);
  }
}
