/** What was planned and quoted of a job before: looked at, compared, asked again. */
import { api, type Fault, type Reason, type VersionChange, type VersionList } from "../api";
import { attempt } from "./attempt";
import type { JobState } from "./job.svelte";
import type { Way } from "./reasons";
import { Turns } from "./turns";
import { money } from "../words";

export class VersionsState {
  list = $state.raw<VersionList | null>(null);
  fault = $state.raw<Fault | null>(null);
  isOpen = $state(false);
  /** What became other with a version, by its number. */
  changes = $state.raw<Record<number, VersionChange[]>>({});
  /** The reason that was opened, with the lines that a price is made of. */
  why = $state.raw<{ version: number; reason: Reason; ways: Way[] } | null>(null);
  /** Why the reason of a version cannot be opened, by its number. */
  unexplained = $state.raw<Record<number, Fault>>({});
  private readonly turns = new Turns();
  private readonly job: JobState;

  constructor(job: JobState) {
    this.job = job;
  }

  /** The versions, the last first. */
  get lastFirst(): VersionList["versions"] {
    return [...(this.list?.versions ?? [])].reverse();
  }

  async show(isOpen: boolean): Promise<void> {
    this.isOpen = isOpen;
    if (isOpen) await this.load();
  }

  async load(): Promise<void> {
    this.fault = await attempt(
      async () => {
        const [list, isLate] = await this.turns.ask(api.versions(this.job.id));
        if (!isLate) this.list = list;
      },
      () => void this.load(),
    );
  }

  /** Say what is other than in the version before it; a second time hides it. */
  async compare(number: number): Promise<void> {
    const { [number]: shown, ...others } = this.changes;
    if (shown) {
      this.changes = others;
      return;
    }
    const numbers = (this.list?.versions ?? []).map((one) => one.number);
    const before = numbers[numbers.indexOf(number) - 1];
    if (before === undefined) return;
    this.fault = await attempt(
      async () => {
        const found = await api.versionChanges(this.job.id, before, number);
        this.changes = { ...this.changes, [number]: found.changes };
      },
      () => (this.fault = null),
    );
  }

  /** Who knows the reasons of a version: what was kept with it. */
  asker(version: number): { explain: (key: string) => Promise<void> } {
    return {
      explain: async (key) => {
        const { [version]: _, ...others } = this.unexplained;
        const fault = await attempt(async () => {
          const reason = await api.versionReason(this.job.id, version, key);
          this.why = { version, reason, ways: keptWays(key, reason) };
        });
        this.unexplained = fault ? { ...others, [version]: fault } : others;
      },
    };
  }

  /** Ask of the job again what was asked in a version; it is computed with the figures of now. */
  async askAgain(number: number): Promise<void> {
    await this.job.askAsIn(number);
  }
}

/** From a kept price down to its lines, and from a line back up. */
function keptWays(key: string, reason: Reason): Way[] {
  const at = key.split("/").slice(0, 3).join("/");
  if (!key.endsWith("/each"))
    return [{ key: `${at}/each`, words: "the price of a piece", value: "", isUp: true }];
  return reason.inputs
    .filter(([name]) => name !== "quantity")
    .map(([name, value]) => ({
      key: `${at}/lines/${name}`,
      words: name,
      value: money(`${value}`),
    }));
}
