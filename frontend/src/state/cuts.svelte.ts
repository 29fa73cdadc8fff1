/** One cut being entered at the machine, and those of the job that were. */
import { api, type Fault, type MeasuredDesk, type Recorded } from "../api";
import { blank, QUESTIONS, saidOf, type Answers, type Question } from "../cut-answers";
import type { Unit } from "../words";
import { attempt } from "./attempt";
import { link } from "./link.svelte";
import { Turns } from "./turns";
import { unsent } from "./unsent.svelte";

/** By what name the answers that are not recorded yet are kept. */
const CUT = "cut";

export class CutsState {
  desk = $state.raw<MeasuredDesk | null>(null);
  answers = $state<Answers>(blank("mm"));
  at = $state<Question>("pass");
  fault = $state.raw<Fault | null>(null);
  done = $state.raw<Recorded | null>(null);
  deed = $state<"Recorded" | "Taken back" | "Confirmed" | "Mended">("Recorded");
  isBusy = $state(false);
  /** What was typed for other passes, by their number. */
  private others: Record<number, Answers> = {};
  private readonly scope: string;
  private readonly turns = new Turns();
  private readonly stop: () => void;

  constructor(
    readonly id: string,
    unit: Unit,
  ) {
    this.scope = `cut of ${id}`;
    const kept = unsent.read(this.scope, CUT);
    if (kept) {
      // What was entered when the page was left is still there.
      const found = JSON.parse(kept) as {
        at: Question;
        answers: Answers;
        others?: Record<number, Answers>;
      };
      this.at = found.at;
      this.answers = found.answers;
      this.others = found.others ?? {};
    } else this.answers = blank(unit);
    this.stop = link.on(
      (message) => {
        if (message.type === "job" && message.job === id && !this.isBusy) void this.load();
      },
      () => void this.load(),
    );
    void this.load();
  }

  dispose(): void {
    this.stop();
  }

  async load(): Promise<void> {
    this.fault = await attempt(async () => {
      const [desk, isLate] = await this.turns.ask(api.measured(this.id));
      if (!isLate) this.desk = desk;
    });
  }

  go(question: Question): void {
    this.fault = null;
    this.at = question;
    this.keep();
  }

  next(): void {
    const i = QUESTIONS.indexOf(this.at);
    this.go(QUESTIONS[Math.min(i + 1, QUESTIONS.length - 1)]!);
  }

  back(): void {
    const i = QUESTIONS.indexOf(this.at);
    this.go(QUESTIONS[Math.max(i - 1, 0)]!);
  }

  keep(): void {
    const { at, answers, others } = this;
    unsent.keep(this.scope, CUT, JSON.stringify({ at, answers, others }));
  }

  /** Answer for a pass: what was typed for another stays with that one. */
  choose(pass: number, unit: Unit): void {
    if (pass !== this.answers.pass) {
      this.others[this.answers.pass] = $state.snapshot(this.answers);
      this.answers = { ...(this.others[pass] ?? blank(unit)), pass };
      delete this.others[pass];
    }
    this.next();
  }

  /** Begin with another cut. */
  begin(unit: Unit): void {
    this.done = null;
    // What was recorded is done with; the answers of other passes wait for theirs.
    this.answers = blank(unit);
    this.go("pass");
  }

  async record(): Promise<void> {
    this.isBusy = true;
    this.fault = await attempt(async () => {
      this.done = await this.taken(api.record(this.id, saidOf(this.answers)));
      this.deed = "Recorded";
      unsent.drop(this.scope, CUT);
    });
    this.isBusy = false;
  }

  /** Record the same figures as another piece. */
  async recordAsAnother(): Promise<void> {
    const alike = this.desk?.cuts.filter((cut) => cut.pass_number === this.answers.pass) ?? [];
    this.answers.note = `piece ${alike.length + 1}`;
    await this.record();
  }

  /** Whether a size of a pass counts for nothing until somebody answers for it. */
  isInQuestion(pass: number): boolean {
    return !!this.desk?.cuts.some((cut) => cut.pass_number === pass && cut.is_size_in_question);
  }

  /** Say that the sizes of a pass that are in question are right. */
  async confirmSize(pass: number): Promise<void> {
    await this.answer("Confirmed", () => api.confirmSize(this.id, pass));
  }

  /** Say that the sizes of a pass were right, and what was mended since. */
  async mendSize(pass: number, reason: string): Promise<void> {
    await this.answer("Mended", () => api.mendSize(this.id, pass, reason));
  }

  /** Show the cuts as an answer has them, unless a later one is there. */
  private async taken(answer: Promise<Recorded>): Promise<Recorded> {
    const [done, isLate] = await this.turns.ask(answer);
    if (!isLate) this.desk = done.desk;
    return done;
  }

  private async answer(deed: "Confirmed" | "Mended", ask: () => Promise<Recorded>): Promise<void> {
    this.isBusy = true;
    this.fault = await attempt(async () => {
      this.done = await this.taken(ask());
      this.deed = deed;
    });
    this.isBusy = false;
  }

  async takeBack(batch: string): Promise<void> {
    this.isBusy = true;
    this.fault = await attempt(async () => {
      const gone = await this.taken(api.takeBack(this.id, batch));
      this.done = { ...gone, questions: [], notes: [] };
      this.deed = "Taken back";
    });
    this.isBusy = false;
  }
}
