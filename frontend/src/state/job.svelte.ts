/** One open job: what the server says of it, what is pointed at, and the minute of the strip. */
import { api, Refused, type Change, type Fault, type Job, type Reason, type What } from "../api";
import { ahead } from "./ahead";
import { weightiestFirst } from "./findings";
import { Geometry } from "../canvas/geometry";
import { Wire } from "../canvas/wire";
import type { Unit } from "../words";
import { CutState } from "./cut.svelte";
import { changedMeanwhile, Elsewhere } from "./elsewhere.svelte";
import { link } from "./link.svelte";
import { AGAIN_MS, Lost, NOT_ARRIVED, withoutAway } from "./lost";
import { asking, difference, isOvertaken, joined, type Moved } from "./moved";
import { place } from "./place.svelte";
import { settings } from "./settings.svelte";
import { Turns } from "./turns";
import { unsent } from "./unsent.svelte";
import { WhatIf } from "./whatif.svelte";
import { faultSaid, stopped } from "../words";

export class JobState {
  job = $state.raw<Job | null>(null);
  fault = $state.raw<Fault | null>(null);
  /** Refusals by the line they were typed into. */
  refused = $state<Record<string, Fault>>({});
  notice = $state("");
  geometry = $state.raw<Geometry | null>(null);
  wire = $state.raw<Wire | null>(null);
  hovered = $state("");
  minute = $state(0);
  isPlaying = $state(false);
  finding = $state(-1);
  /** Which of the quantities is looked at. */
  quantityAt = $state(0);
  moved = $state.raw<Moved | null>(null);
  isSaving = $state(false);
  /** A place of the drawing to look at. */
  look = $state.raw<[number, number] | null>(null);
  /** What the drawing says at the place that is looked at. */
  saying = $state.raw<{ at: [number, number]; text: string } | null>(null);
  why = $state.raw<{ key: string; reason: Reason } | null>(null);

  readonly cut: CutState;
  readonly elsewhere = new Elsewhere();
  readonly whatIf: WhatIf;

  readonly draft = $derived(this.job?.draft ?? null);
  readonly unit = $derived<Unit>(settings.chosen ?? this.job?.draft?.drawing_unit ?? "mm");
  readonly price = $derived(
    this.draft?.prices[Math.min(this.quantityAt, this.draft.prices.length - 1)] ?? null,
  );
  /** All findings, of the drawing, the plan and the proof, the weightiest first. */
  readonly findings = $derived(
    weightiestFirst([...(this.draft?.findings ?? []), ...(this.job?.verdict?.findings ?? [])]),
  );
  /** Contours that are picked; the address keeps them over a reload. */
  readonly selection = $derived(place.contour ? place.contour.split(",") : []);
  /** The contour that is picked, where it is one. */
  readonly selected = $derived(this.selection.length === 1 ? this.selection[0]! : "");

  /** Pieces as the proof weighed them, by contour; the plan's word is from before the path. */
  readonly weighed = $derived.by(() =>
    this.isStale ? new Map<string, number>() : this.cut.single,
  );

  /** Lines in which something is typed that is not stored. */
  readonly unsent = $derived.by(() => unsent.linesOf(this.id));

  /** What was asked for before the job was opened. */
  private readonly found: ReturnType<typeof ahead.take>;
  private readonly turns = new Turns();
  private readonly asking = new Turns();
  private geometryKey = "";
  /** A change whose numbers are on their way, and what stood before it. */
  private compared: { line: string; before: Job | null } | null = null;
  private wireKey = "";
  private wireAsked = "";
  private readonly stop: () => void;
  private saved: Promise<unknown> = Promise.resolve();
  /** Changes in line that are not sent yet. */
  private readonly waiting: Change[] = [];
  /** The change that is sent and not answered yet. */
  private underWay: Change | null = null;
  /** Sent with others in line behind it, and lost on its way, there or back: sent along with those. */
  private doubtful: { change: Change; line: string } | null = null;
  private readonly lost = new Lost();
  private timer = 0;

  constructor(readonly id: string) {
    this.cut = new CutState(id);
    this.whatIf = new WhatIf(
      () => (this.isSaving ? null : this.job),
      () => void this.askSavings(),
    );
    this.stop = link.on(
      (message) => {
        if (message.type === "job" && message.job === id && !this.isSaving) void this.load();
        if (message.type === "work" && message.job === id) this.progress(message);
      },
      () => {
        withoutAway(this.refused);
        void this.load();
      },
    );
    addEventListener("pagehide", this.leave);
    this.found = ahead.take(id);
    void (this.found ? this.attempt(() => this.take(this.found!.job)) : this.load());
  }

  /** Another plan is on its way: what stands on the page is of before. */
  get isStale(): boolean {
    return this.isSaving || this.isStopped || !!this.job?.work.some((one) => one.what === "draft");
  }

  /** Somebody stopped the computation of what is asked now. */
  get isStopped(): boolean {
    return !!this.job?.stopped.includes("draft");
  }

  dispose(): void {
    clearTimeout(this.timer);
    removeEventListener("pagehide", this.leave);
    this.whatIf.dispose();
    this.stop();
  }

  async load(): Promise<void> {
    await this.attempt(() => this.take(api.job(this.id)));
  }

  /** Set one line; a refusal stays at the line. `seen` is what stood there when it was opened. */
  async set(line: string, text: string, seen?: string): Promise<boolean> {
    return this.change(
      { lines: { [line]: text } },
      line,
      seen === undefined ? {} : { [line]: seen },
    );
  }

  async apply(lines: Record<string, string>, line: string): Promise<boolean> {
    return this.change({ lines }, line);
  }

  /** Set demands of contours by themselves; an empty text leaves them to the job again. */
  async setOwn(
    contours: string[],
    demands: Record<string, string>,
    line: string,
  ): Promise<boolean> {
    return this.change({ own: [{ contours, demands }] }, line);
  }

  /** Take a tolerance from contours and ask it of others, in one step to undo. */
  async moveOwn(from: string[], to: string[], text: string, line: string): Promise<boolean> {
    const own = [
      { contours: from, demands: { tolerance: "" } },
      { contours: to, demands: { tolerance: text } },
    ];
    return this.change({ own }, line);
  }

  /** Wait until what is being sent is stored; false where it was refused. */
  async settled(): Promise<boolean> {
    if (!this.underWay && !this.waiting.length) return true;
    return (await this.saved) !== false;
  }

  private change(
    wanted: Change,
    line: string,
    seen: Record<string, string> = {},
  ): Promise<boolean> {
    this.waiting.push(wanted);
    return this.inTurn(() => this.changeNow(wanted, line, seen));
  }

  /** Send what is still in line when the page is closed, in one change: no answer comes back. */
  private readonly leave = (): void => {
    const revision = this.job?.revision;
    if (revision === undefined) return;
    const waiting = this.waiting.splice(0);
    if (!waiting.length) return;
    // The change that is under way may arrive before or after this one: this one holds it too.
    const all = joined(this.underWay ? [this.underWay, ...waiting] : waiting);
    void api.change(this.id, all, [revision, revision + 1]).catch(() => undefined);
  };

  /** Save one change after the other: each builds on what the one before left. */
  private inTurn<T>(action: () => Promise<T>): Promise<T> {
    const done = this.saved.then(action);
    this.saved = done.catch(() => undefined);
    return done;
  }

  private async changeNow(
    wanted: Change,
    line: string,
    seen: Record<string, string>,
  ): Promise<boolean> {
    if (this.lost.isUnsure) await this.lookAgain();
    const before = this.job;
    const at = this.waiting.indexOf(wanted);
    // Sent already, because the page was being left.
    if (!before || at < 0) return false;
    this.waiting.splice(at, 1);
    const lost = this.doubtful;
    this.doubtful = null;
    const all = lost ? joined([lost.change, wanted]) : wanted;
    const revisions = lost ? [before.revision, before.revision + 1] : [before.revision];
    this.underWay = all;
    this.lost.drop(line);
    this.isSaving = true;
    try {
      await this.take(api.change(this.id, all, revisions), line, seen);
      delete this.refused[line];
      if (lost) delete this.refused[lost.line];
      void this.load();
      return true;
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      if (e.status === 409) await this.changedElsewhere(e.fault);
      let fault = e.fault;
      if (e.status === 0) {
        this.lost.add(line, all);
        // A browser gives up what is on its way when the page is left, before it says that it is.
        if (this.waiting.length) this.doubtful = { change: all, line };
        else if (await this.lookAgain()) {
          if (!this.lost.has(line)) return true;
          fault = NOT_ARRIVED;
        }
      }
      this.refused[line] = fault;
      return false;
    } finally {
      this.underWay = null;
      this.isSaving = false;
    }
  }

  async undo(): Promise<void> {
    await this.step((job) => api.undo(this.id, job.revision), "undo");
  }

  async redo(): Promise<void> {
    await this.step((job) => api.redo(this.id, job.revision), "redo");
  }

  /** Ask again what was asked in an earlier version. */
  async askAsIn(version: number): Promise<void> {
    await this.step((job) => api.askAsIn(this.id, version, job.revision), "version");
  }

  async setStage(stage: Job["card"]["stage"]): Promise<boolean> {
    return this.change({ stage }, "stage");
  }

  async askSavings(): Promise<void> {
    await this.askedFor(() => api.savings(this.id));
  }

  /** Price a piece by how many sheets are cut at once. */
  async askStacks(quantity: number): Promise<void> {
    await this.askedFor(() => api.stacks(this.id, quantity));
  }

  async compute(): Promise<void> {
    await this.askedFor(() => api.compute(this.id));
  }

  async prove(): Promise<void> {
    await this.askedFor(() => api.prove(this.id));
  }

  async stopWork(what: What): Promise<void> {
    await this.askedFor(() => api.stop(this.id, what));
  }

  async explain(key: string): Promise<void> {
    await this.attempt(async () => {
      const [reason, isLate] = await this.asking.ask(api.reason(this.id, key));
      if (!isLate) this.why = { key, reason };
    });
  }

  select(contour: string): void {
    place.keep(contour === place.contour ? "" : contour);
  }

  /** Take a contour into the selection, or out of it. */
  toggle(contour: string): void {
    if (!contour) return;
    const rest = this.selection.filter((id) => id !== contour);
    this.pick(rest.length === this.selection.length ? [...rest, contour] : rest);
  }

  /** Select just these contours, in the order of the drawing. */
  pick(ids: string[]): void {
    const wanted = new Set(ids);
    const known = (this.draft?.contours ?? []).map((one) => one.id);
    place.keep(known.filter((id) => wanted.has(id)).join(","));
  }

  private step(action: (job: Job) => Promise<Job>, line: string): Promise<void> {
    return this.inTurn(() => this.stepNow(action, line));
  }

  private async stepNow(action: (job: Job) => Promise<Job>, line: string): Promise<void> {
    const before = this.job;
    if (!before) return;
    this.isSaving = true;
    try {
      await this.take(action(before), line);
      this.refused = {};
      void this.load();
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      if (e.status === 409) await this.changedElsewhere(e.fault);
      else if (e.status === 0) {
        this.lost.step = before.revision + 1;
        if (!(await this.lookAgain())) this.fault = e.fault;
        else if (this.job?.revision === before.revision) this.fault = NOT_ARRIVED;
      } else this.fault = e.fault;
    } finally {
      this.isSaving = false;
    }
  }

  /** An answer was lost: look at what is stored, now or once the server answers; whether it did. */
  private async lookAgain(): Promise<boolean> {
    clearTimeout(this.timer);
    // What the server says by itself is heard from here on.
    this.isSaving = false;
    this.lost.isUnsure = true;
    try {
      await this.take(api.job(this.id));
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      // Where the link is down, it says itself when the server is back.
      const again = (): void => void (this.isSaving || this.lookAgain());
      if (e.status === 0 && link.isOpen) this.timer = window.setTimeout(again, AGAIN_MS);
      return false;
    }
    withoutAway(this.refused);
    this.fault = null;
    return true;
  }

  /** Say no more of what is stored that it is not sent, or not stored. */
  private settle(job: Job): void {
    for (const line of this.lost.found(job)) delete this.refused[line];
    unsent.settle(this.id, job.asked);
  }

  private async changedElsewhere(fault: Fault): Promise<void> {
    this.notice = faultSaid(fault);
    const before = this.job;
    await this.load();
    const words = changedMeanwhile(before, this.job);
    if (words) this.notice = `${faultSaid(fault)} ${stopped(words)}`;
  }

  /** Take what the server says, and fetch what is sent as bytes where it changed. */
  private async take(
    answer: Promise<Job>,
    line = "",
    seen: Record<string, string> = {},
  ): Promise<void> {
    const [job, isLate] = await this.turns.ask(answer);
    const shown = this.job?.revision ?? 0;
    if (job.revision < shown || (isLate && job.revision === shown && !line)) return;
    if (line) this.elsewhere.changedHere(this.job, job, seen);
    else this.elsewhere.changedThere(this.job, job, (at, text) => this.lost.isOurs(job, at, text));
    this.lost.isUnsure = false;
    this.settle(job);
    if (line) {
      this.moved = null;
      this.compared = { line, before: this.job };
    } else if (isOvertaken(this.moved, job, shown)) this.moved = this.compared = null;
    if (this.compared && job.draft) {
      this.moved = difference(this.compared.line, this.compared.before, job);
      this.compared = null;
    }
    if (line && line !== "undo") this.notice = "";
    // A draft on its way leaves the last numbers standing, dimmed, rather than an empty page.
    this.job = job.draft || !this.job?.draft ? job : { ...job, draft: asking(this.job.draft, job) };
    this.whatIf.take(job);
    void this.cut.take(job);
    if (!job.draft) return;
    const key = job.draft.geometry_key;
    if (key !== this.geometryKey) {
      const geometry = key ? new Geometry(await this.linesOf(key)) : null;
      // An answer for a drawing that is shown no more is dropped; one that failed is asked again.
      if (this.job?.draft?.geometry_key !== key) return;
      this.geometryKey = key;
      this.geometry = geometry;
    }
    // The shop's figures may change under a job: then its revision stays, and its plan does not.
    const strip = job.draft.strip;
    const wireKey = `${job.revision} ${strip?.total_min} ${strip?.stretches.length}`;
    if (wireKey === this.wireKey) return;
    this.wireAsked = wireKey;
    const wire = strip ? new Wire(await api.wire(this.id)) : null;
    // Of another revision, or by other figures of the shop, it is of a strip that is shown no more.
    if (this.job?.revision !== job.revision || this.wireAsked !== wireKey) return;
    this.wireKey = wireKey;
    this.wire = wire;
    this.minute = Math.min(this.minute, strip?.total_min ?? 0);
  }

  /** The lines of the drawing: asked for ahead, where those are of this key. */
  private async linesOf(key: string): Promise<ArrayBuffer> {
    const [before, lines] = (await this.found?.geometry.catch(() => null)) ?? [];
    return before === key && lines ? lines : api.geometry(this.id);
  }

  private progress(message: { what: What; step: string; share: number }): void {
    if (!this.job) return;
    const { what, step, share } = message;
    const others = this.job.work.filter((one) => one.what !== what);
    this.job = { ...this.job, work: [...others, { what, step, share }] };
  }

  /** Ask for something, and show what the job is then. */
  private async askedFor(ask: () => Promise<unknown>): Promise<void> {
    await this.attempt(async () => {
      await ask();
      await this.take(api.job(this.id));
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
