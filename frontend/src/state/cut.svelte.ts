/** What was read back of the proved program: its path by line, loose pieces, deviations. */
import { api, Refused, type Freed, type Job, type Worst } from "../api";
import { Deviations } from "../canvas/deviations";
import { Geometry } from "../canvas/geometry";
import { ProgramPath, type Hit } from "../canvas/program";
import { link } from "./link.svelte";
import { faultSaid } from "../words";

export interface Spot {
  x: number;
  y: number;
  hits: Hit[];
}

export class CutState {
  path = $state.raw<ProgramPath | null>(null);
  edges = $state.raw<Geometry | null>(null);
  deviations = $state.raw<Deviations | null>(null);
  pieces = $state.raw<Freed[]>([]);
  worst = $state.raw<Worst[]>([]);
  /** Text of the program, line by line, once it is looked at. */
  lines = $state.raw<string[]>([]);
  isListed = $state(false);
  /** Line chosen in the listing; 0 for none. */
  line = $state(0);
  /** The place asked for last. */
  spot = $state.raw<Spot | null>(null);
  areShown = $state(false);
  worstAt = $state(-1);
  /** Why something could not be fetched. */
  trouble = $state("");

  /** Pieces by their contour, where it has one. */
  readonly single = $derived.by(() => {
    const found = new Map<string, number[]>();
    this.pieces.forEach((one, i) => {
      const id = one.contour_id ?? "";
      found.set(id, [...(found.get(id) ?? []), i]);
    });
    return new Map([...found].flatMap(([id, at]) => (at.length === 1 ? [[id, at[0]!]] : [])));
  });

  private key = "";

  constructor(private readonly id: string) {}

  /** Take what the server says of the proof. */
  async take(job: Job): Promise<void> {
    const verdict = job.verdict;
    const key = verdict?.contours.length
      ? [verdict.program_sha256, ...verdict.pieces.map((one) => one.minute)].join("/")
      : "";
    if (key === this.key) return;
    this.key = key;
    this.path = this.edges = this.deviations = this.spot = null;
    this.pieces = verdict?.pieces ?? [];
    this.worst = verdict?.worst ?? [];
    this.lines = [];
    this.line = 0;
    this.worstAt = -1;
    if (!key) return;
    // A program that failed is withheld; only its deviations may be looked at.
    if (!verdict?.is_proved) {
      if (this.areShown) await this.show(true);
      return;
    }
    await this.fetched(async () => {
      const [path, pieces] = await Promise.all([
        api.cut(this.id, "path"),
        api.cut(this.id, "pieces"),
      ]);
      if (key !== this.key) return;
      this.path = new ProgramPath(path);
      this.edges = new Geometry(pieces);
      if (this.areShown) await this.measure();
      if (this.isListed) await this.list();
    });
  }

  /** Switch the deviations on or off. */
  async show(areShown: boolean): Promise<void> {
    this.areShown = areShown;
    this.worstAt = -1;
    if (areShown) await this.fetched(() => this.measure());
  }

  /** Open the listing, at a line if one is given. */
  async open(line = 0): Promise<void> {
    this.isListed = true;
    if (line) this.line = line;
    await this.fetched(() => this.list());
  }

  /** Find what cuts at a place; nothing is shown where nothing does. */
  async at(x: number, y: number, reach: number): Promise<void> {
    const hits = this.path?.near(x, y, reach) ?? [];
    this.spot = hits.length ? { x, y, hits } : null;
    if (this.spot) await this.fetched(() => this.list());
  }

  private async measure(): Promise<void> {
    if (this.deviations || !this.key) return;
    const key = this.key;
    const found = new Deviations(await api.cut(this.id, "deviations"));
    if (key === this.key) this.deviations = found;
  }

  private async list(): Promise<void> {
    if (this.lines.length || !this.key) return;
    const key = this.key;
    const text = await api.program(this.id);
    if (key === this.key) this.lines = text.replace(/\r?\n$/, "").split(/\r?\n/);
  }

  private async fetched(action: () => Promise<void>): Promise<void> {
    try {
      await action();
      this.trouble = "";
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      // A change meanwhile takes the proof away; what it brings is fetched when it is there.
      this.trouble = e.status === 409 ? "" : faultSaid(e.fault);
      link.untilBack(e.fault, () => (this.trouble = ""));
    }
  }
}
