/** The shop's tables: the list of them, the one that is open, and what is being edited. */
import { api, Refused, type Fault, type Table, type TableCard, type TableRow } from "../api";
import { attempt } from "./attempt";
import { link } from "./link.svelte";
import { Turns } from "./turns";

export class TablesState {
  cards = $state.raw<TableCard[] | null>(null);
  table = $state.raw<Table | null>(null);
  fault = $state.raw<Fault | null>(null);
  /** Refusals by the value or row they were typed at. */
  refused = $state<Record<string, Fault>>({});
  search = $state("");
  isOnlyOwn = $state(false);
  isBusy = $state(false);
  /** Something was written while our own change was under way. */
  private isOld = false;
  /** Changes of ours that were answered. */
  private count = 0;
  /** Table that was opened last. */
  private opened = "";
  /** Changes go one after the other: the answer of one never takes back the next. */
  private changed: Promise<unknown> = Promise.resolve();
  private readonly turns = new Turns();
  private readonly stop: () => void;

  /** Rows with the values that are looked for; a row that is called so is shown whole. */
  readonly rows = $derived.by<TableRow[]>(() => {
    const words = this.search.toLowerCase().split(/\s+/).filter(Boolean);
    const has = (text: string): boolean => words.every((word) => text.toLowerCase().includes(word));
    return (this.table?.rows ?? [])
      .map((row) => {
        const title = `${row.title} ${row.id}`;
        const values = row.values.filter(
          (value) =>
            (!this.isOnlyOwn || value.is_own) &&
            (has(title) || has(`${title} ${value.name} ${value.shown.metric} ${value.source}`)),
        );
        return { ...row, values };
      })
      .filter((row) => row.values.length > 0);
  });

  constructor() {
    this.stop = link.on(
      (message) => message.type === "tables" && void this.renew(),
      () => void this.load(this.table?.name ?? ""),
    );
  }

  dispose(): void {
    this.stop();
  }

  async load(name: string): Promise<void> {
    const fault = await attempt(async () => {
      this.refused = {};
      // What was looked for in one table is not what is looked for in the next.
      if (this.opened && this.opened !== name) {
        this.isOnlyOwn = false;
        this.search = "";
      }
      this.opened = name;
      if (!this.cards) this.cards = await api.tables();
      await this.take(name);
    });
    if (this.opened === name) this.fault = fault;
  }

  /** Show a table, unless another was opened meanwhile or a later answer is there. */
  private async take(name: string): Promise<void> {
    const before = this.count;
    const [table, isLate] = await this.turns.ask(name ? api.table(name) : Promise.resolve(null));
    if (this.opened !== name || isLate) return;
    // Asked before a change of ours was answered, it may be without it: then it is asked for again.
    this.isOld = this.isBusy || before !== this.count;
    if (!this.isOld || this.table?.name !== name) this.table = table;
    if (this.isOld && !this.isBusy) void this.renew();
  }

  /** Show what was written in another window; what is typed here stays. */
  private async renew(): Promise<void> {
    const name = this.table?.name;
    if (this.isBusy) {
      this.isOld = true;
      return;
    }
    this.isOld = false;
    await attempt(async () => {
      this.cards = await api.tables();
      if (name) await this.take(name);
    });
  }

  async put(key: string, text: string, source: string, isMeant = false): Promise<boolean> {
    return this.change(key, async (name) =>
      this.exchange(name, await api.putValue(name, key, text, source, isMeant)),
    );
  }

  async drop(key: string): Promise<boolean> {
    return this.change(key, async (name) => this.exchange(name, await api.dropValue(name, key)));
  }

  async copy(like: string, id: string, title: string): Promise<boolean> {
    return this.change(like, async (name) => {
      this.whole(await api.copyRow(name, like, id, title));
    });
  }

  async dropRow(row: string): Promise<boolean> {
    return this.change(row, async (name) => {
      this.whole(await api.dropRow(name, row));
    });
  }

  /** A row was copied or dropped; another table may be open by now. */
  private whole(table: Table): void {
    if (this.opened === table.name) this.table = table;
  }

  private exchange(name: string, row: TableRow): void {
    const table = this.table;
    if (table?.name !== name) return;
    this.table = { ...table, rows: table.rows.map((one) => (one.id === row.id ? row : one)) };
  }

  private change(at: string, action: (name: string) => Promise<void>): Promise<boolean> {
    const name = this.table?.name;
    if (!name) return Promise.resolve(false);
    const done = this.changed.then(() => this.changeNow(at, () => action(name)));
    this.changed = done.catch(() => undefined);
    return done;
  }

  private async changeNow(at: string, action: () => Promise<void>): Promise<boolean> {
    this.isBusy = true;
    try {
      await action();
      delete this.refused[at];
      this.cards = await api.tables();
      return true;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.refused[at] = e.fault;
      return false;
    } finally {
      this.count += 1;
      this.isBusy = false;
      if (this.isOld) void this.renew();
    }
  }
}
