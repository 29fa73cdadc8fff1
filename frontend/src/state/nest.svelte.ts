/** A nest: what is wanted, what came of it, and the parts that a hand lays elsewhere. */
import {
  api,
  AWAY,
  type Card,
  type Fault,
  type Finding,
  type Nest,
  type NestKind,
  type NestPlacement,
  type NestWanted,
} from "../api";
import { attempt } from "./attempt";
import { link } from "./link.svelte";
import { nestAt } from "./place.svelte";
import { Turns } from "./turns";
import { unsent } from "./unsent.svelte";

/** Parts of one job, as somebody writes them. */
export interface Wish {
  job: string;
  quantity: number;
  turns: NestWanted["parts"][number]["turns"];
}

/** What is filled in before parts are laid. */
export interface Form {
  parts: Wish[];
  material: string;
  thickness: string;
  sheets: string;
  web: string;
  frame: string;
  clamps: string;
  seconds: number;
  want: NestWanted["want"];
}

/** By what name a form that was not laid yet is kept. */
const FORM = "form";
/** Jobs that are listed to choose from. */
const MOST = 100;

const nameOf = (one: { kind: string; copy_number: number }): string =>
  `${one.kind} ${one.copy_number}`;

export class NestState {
  cards = $state.raw<Card[]>([]);
  search = $state("");
  nest = $state.raw<Nest | null>(null);
  fault = $state.raw<Fault | null>(null);
  /** Where parts are held now, by name; empty while no hand moves any. */
  held = $state.raw<Map<string, NestPlacement>>(new Map());
  /** What stands against where they are held. */
  against = $state.raw<Finding[]>([]);
  isTried = $state(false);
  made = $state.raw<{ id: string; left: string[] }[]>([]);
  isMaking = $state(false);

  private before = $state.raw<NestPlacement[][]>([]);

  form = $state<Form>({
    parts: [],
    material: "",
    thickness: "",
    sheets: "",
    web: "",
    frame: "",
    clamps: "",
    seconds: 20,
    want: "material",
  });
  /** The form as it was laid, or empty. */
  private asked = $state("");
  private readonly text = $derived(JSON.stringify(this.form));
  /** Something is filled in that was not laid. */
  readonly isChanged = $derived(this.text !== this.asked);

  readonly laid = $derived(this.nest?.laid ?? null);
  readonly placements = $derived(
    (this.laid?.placements ?? []).map((one) => this.held.get(nameOf(one)) ?? one),
  );
  readonly kinds = $derived(new Map((this.laid?.kinds ?? []).map((one) => [one.id, one])));
  readonly canUndo = $derived(this.before.length > 0);
  readonly canLay = $derived(
    this.form.parts.length > 0 &&
      !!this.form.material &&
      !!this.form.thickness &&
      !!this.form.sheets.trim(),
  );

  private readonly scope: string;
  /** Why there was no list of jobs. */
  private unlisted: Fault | null = null;
  private isAsking = false;
  private readonly turns = new Turns();
  private readonly listTurns = new Turns();
  private readonly stop: () => void;

  constructor(readonly id: string) {
    this.scope = `nest ${id}`;
    this.stop = link.on(
      (message) => {
        if (message.type === "nest" && message.nest === id) void this.load();
      },
      () => {
        if (this.fault?.code === AWAY.code) this.fault = null;
        void this.load();
      },
    );
    this.asked = this.text;
    const kept = unsent.read(this.scope, FORM);
    if (kept) this.form = JSON.parse(kept) as Form;
    void this.load();
    void this.look();
  }

  /** Look for jobs whose parts may be laid: those that came in last, or that are searched for. */
  async look(): Promise<void> {
    const fault = await attempt(async () => {
      const wish = {
        search: this.search,
        stage: "",
        by: "added",
        rising: false,
        most: MOST,
      } as const;
      const [list, isLate] = await this.listTurns.ask(api.jobs(wish));
      if (!isLate) this.cards = list.jobs;
    });
    // A list that is there says nothing of a nest that was refused meanwhile.
    if (fault || this.fault === this.unlisted) this.fault = fault;
    this.unlisted = fault;
  }

  dispose(): void {
    this.stop();
  }

  async load(): Promise<void> {
    if (!this.id) return;
    this.fault = await attempt(async () => {
      const isFirst = this.nest === null;
      const [nest, isLate] = await this.turns.ask(api.nest(this.id));
      if (isLate) return;
      this.nest = nest;
      // What is filled in already stays.
      const kept = unsent.read(this.scope, FORM);
      if (isFirst) this.write(nest.asked);
      if (isFirst && kept) this.form = JSON.parse(kept) as Form;
    });
  }

  /** Begin to lay what is wanted; the answer has an address of its own. */
  async lay(): Promise<void> {
    const lines = (text: string): string[] =>
      text
        .split("\n")
        .map((one) => one.trim())
        .filter(Boolean);
    this.fault = await attempt(async () => {
      const { sheets, clamps, ...rest } = $state.snapshot(this.form);
      const begun = await api.lay({
        ...rest,
        sheets: lines(sheets),
        clamps: lines(clamps),
        wire: "",
        seed: this.nest?.asked.seed ?? 0,
        fills_openings: true,
      });
      unsent.drop(this.scope, FORM);
      location.hash = nestAt(begun.id);
    });
  }

  /** End the search with what there is. */
  async end(): Promise<void> {
    this.fault = await attempt(() => api.endNest(this.id));
  }

  addPart(card: Card): void {
    this.form.parts.push({ job: card.id, quantity: 1, turns: "quarter" });
  }

  /** The part and those that lie in its openings: they go with it. */
  with(one: NestPlacement): NestPlacement[] {
    const guests = this.placements.filter(
      (other) => other.inside?.[0] === one.kind && other.inside[1] === one.copy_number,
    );
    return [one, ...guests.flatMap((guest) => this.with(guest))];
  }

  /** Hold parts elsewhere; the spacing is looked up while the hand moves. */
  hold(moved: NestPlacement[]): void {
    this.held = new Map(moved.map((one) => [nameOf(one), one]));
    if (!this.isAsking) void this.tryHeld();
  }

  private async tryHeld(): Promise<void> {
    this.isAsking = true;
    const moved = this.held;
    await attempt(async () => {
      const tried = await api.tryNest(this.id, [...moved.values()]);
      if (!this.held.size) return;
      this.against = tried.findings;
      this.isTried = this.held === moved;
    });
    this.isAsking = false;
    // The hand has gone on meanwhile.
    if (this.held.size && this.held !== moved) void this.tryHeld();
  }

  /** Let go: the parts lie where they are held, and the whole nest is checked. */
  async release(): Promise<void> {
    const moved = [...this.held.values()];
    if (!moved.length) return;
    const were = (this.laid?.placements ?? []).filter((one) => this.held.has(nameOf(one)));
    if (await this.put(moved)) this.before = [...this.before, were];
  }

  async undo(): Promise<void> {
    const last = this.before.at(-1);
    if (last && (await this.put(last))) this.before = this.before.slice(0, -1);
  }

  private async put(moved: NestPlacement[]): Promise<boolean> {
    this.made = [];
    this.fault = await attempt(async () => {
      const [nest, isLate] = await this.turns.ask(api.moveNest(this.id, moved));
      if (!isLate) this.nest = nest;
    });
    this.held = new Map();
    this.against = [];
    this.isTried = false;
    return !this.fault;
  }

  /** Make a job of each sheet. */
  async makeJobs(): Promise<void> {
    this.isMaking = true;
    this.fault = await attempt(async () => {
      this.made = (await api.jobsOfNest(this.id)).jobs;
    });
    this.isMaking = false;
  }

  /** Keep what is filled in until it is laid; as it was laid, nothing waits. */
  keep(): void {
    if (this.isChanged) unsent.keep(this.scope, FORM, this.text);
    else unsent.drop(this.scope, FORM);
  }

  /** Fill the form in as it was laid. */
  letGo(): void {
    this.form = JSON.parse(this.asked) as Form;
  }

  private write(asked: NestWanted): void {
    this.form = {
      parts: asked.parts.map((one) => ({ ...one, turns: one.turns ?? "quarter" })),
      material: asked.material,
      thickness: asked.thickness,
      sheets: asked.sheets.join("\n"),
      web: asked.web ?? "",
      frame: asked.frame ?? "",
      clamps: (asked.clamps ?? []).join("\n"),
      seconds: asked.seconds ?? 20,
      want: asked.want ?? "material",
    };
    this.asked = this.text;
  }
}

/** Turn and shift parts together about a point. */
export function turned(
  all: NestPlacement[],
  by_deg: number,
  about: [number, number],
): NestPlacement[] {
  const [c, s] = [Math.cos((by_deg * Math.PI) / 180), Math.sin((by_deg * Math.PI) / 180)];
  return all.map((one) => {
    const [dx, dy] = [one.x_mm - about[0], one.y_mm - about[1]];
    return {
      ...one,
      turn_deg: (((one.turn_deg + by_deg) % 360) + 360) % 360,
      x_mm: about[0] + c * dx - s * dy,
      y_mm: about[1] + s * dx + c * dy,
    };
  });
}

export const shifted = (all: NestPlacement[], dx: number, dy: number): NestPlacement[] =>
  all.map((one) => ({ ...one, x_mm: one.x_mm + dx, y_mm: one.y_mm + dy }));

/** The next turn that is allowed. */
export function nextTurn(kind: NestKind, turn_deg: number): number {
  const angles = kind.angles_deg;
  if (!angles.length) return 15;
  const at = angles.findIndex((one) => Math.abs(one - turn_deg) < 1e-6);
  return angles[(at + 1) % angles.length]! - turn_deg;
}
