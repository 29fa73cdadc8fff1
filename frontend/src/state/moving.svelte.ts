/** A start hole, a lead-in or a tab that is being moved: tried at the server, kept if it may stand. */
import { api, Refused, type Contour, type Fault, type Placeable, type PlaceTried } from "../api";
import type { JobState } from "./job.svelte";
import { link } from "./link.svelte";
import { faultSaid, stopped } from "../words";

export type Spot = [number, number];

export const NAMES: Record<Placeable, string> = {
  start: "Start hole",
  "lead-in": "Lead-in",
  tab: "Tab",
  "tab width": "Tab width",
};

/** The line of the ledger that keeps it. */
export const lineOf = (what: Placeable, contour: string): string =>
  `${what.replace(" ", "-")} ${contour}`;

/** By what name a place that is not stored yet is kept. */
export const typedAs = (what: Placeable, contour: string): string => `${NAMES[what]} of ${contour}`;

export class Moving {
  what = $state<Placeable | null>(null);
  /** Where the hand is. */
  spot = $state.raw<Spot>([0, 0]);
  /** It was moved since it was taken. */
  hasMoved = $state(false);
  tried = $state.raw<PlaceTried | null>(null);
  /** Why the last place was not taken. */
  refusal = $state("");
  /** Let go, and held to the limits before it is kept. */
  isKeeping = $state(false);
  private isAsking = false;
  private isStale = false;
  private count = 0;

  constructor(
    private readonly job: JobState,
    private readonly contour: string,
  ) {}

  /** Let the server choose the passes before a hand asks: then its limits follow at once. */
  async prepare(what: Placeable, [x_mm, y_mm]: Spot): Promise<void> {
    await api.tryPlace(this.job.id, this.contour, what, { x_mm, y_mm }).catch(() => undefined);
  }

  begin(what: Placeable, spot: Spot): void {
    this.what = what;
    this.spot = spot;
    this.hasMoved = false;
    this.tried = null;
    this.refusal = "";
  }

  /** Move on; one question is under way at a time, and the last place is always asked. */
  to(spot: Spot): void {
    this.spot = spot;
    this.hasMoved = true;
    this.isStale = true;
    if (!this.isAsking) void this.ask();
  }

  cancel(): void {
    this.what = null;
    this.tried = null;
    this.isStale = false;
    this.count++;
  }

  /** Let go: the place is kept if it may stand; else the old one stays and the reason is said. */
  async drop(): Promise<boolean> {
    const { what, spot } = this;
    if (!what || this.isKeeping) return false;
    this.isKeeping = true;
    this.isStale = false;
    const isKept = await this.keep(what, { x_mm: spot[0], y_mm: spot[1] });
    this.isKeeping = false;
    this.cancel();
    return isKept;
  }

  async keep(
    what: Placeable,
    place: { text: string } | { x_mm: number; y_mm: number },
  ): Promise<boolean> {
    this.refusal = "";
    const line = lineOf(what, this.contour);
    try {
      // An empty place is the planner's again.
      if ("text" in place && !place.text.trim()) return await this.job.set(line, "");
      const tried = await api.tryPlace(this.job.id, this.contour, what, place);
      if (tried.is_refused) {
        this.refusal = `${NAMES[what]} stays where it was: ${stopped(why(tried, this.job))} ${tried.remedy}`;
        return false;
      }
      const isKept = await this.job.set(line, tried.text);
      const fault = this.job.refused[line];
      if (fault) this.refuse(fault);
      return isKept;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.refuse(e.fault);
      return false;
    }
  }

  private refuse(fault: Fault): void {
    this.refusal = faultSaid(fault);
    link.untilBack(fault, () => (this.refusal = ""));
  }

  private async ask(): Promise<void> {
    const mine = this.count;
    this.isAsking = true;
    try {
      while (this.isStale && this.what) {
        this.isStale = false;
        const [x_mm, y_mm] = this.spot;
        const found = await api.tryPlace(this.job.id, this.contour, this.what, { x_mm, y_mm });
        if (mine === this.count) this.tried = found;
      }
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.refuse(e.fault);
    } finally {
      this.isAsking = false;
    }
  }
}

/** The limits that a place breaks, in words. */
export function why(tried: PlaceTried, job: JobState): string {
  const broken = tried.checks.filter((one) => one.state === "refused");
  const words = broken.map((one) => (job.unit === "in" ? one.said.inch : one.said.metric));
  return words.join("; ") || "no start hole fits there";
}

export function placeOf(contour: Contour, what: Placeable): Spot | null {
  if (what === "start") return contour.start ? [contour.start[0], contour.start[1]] : null;
  if (what === "tab width") return contour.tab_end ?? null;
  return what === "tab" ? contour.tab : contour.lead_in;
}
