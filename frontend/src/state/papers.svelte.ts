/** The papers of one job: how they are wanted, and what was made for what is asked now. */
import { api, type Fault, type PaperDesk, type PaperOrder } from "../api";
import { attempt } from "./attempt";
import { titleOf } from "./elsewhere.svelte";
import type { JobState } from "./job.svelte";
import { link } from "./link.svelte";
import { Turns } from "./turns";

export class PapersState {
  desk = $state.raw<PaperDesk | null>(null);
  fault = $state.raw<Fault | null>(null);
  /** Refusals by the word or choice that they are of. */
  refused = $state<Record<string, Fault>>({});
  shown = $state("quote.pdf");
  /** Goes up with every set that is made, so that no old picture is shown. */
  made = $state(0);
  /** Asked for, and not begun by the server yet. */
  isAsking = $state(false);
  /** Words go one after the other: each is of the revision that the one before left. */
  private kept: Promise<unknown> = Promise.resolve();
  private readonly turns = new Turns();
  private readonly stop: () => void;

  constructor(readonly id: string) {
    this.stop = link.on(
      (message) => {
        if (message.type === "job" && message.job === id) void this.load();
      },
      () => void this.load(),
    );
    void this.load();
  }

  dispose(): void {
    this.stop();
  }

  async load(): Promise<void> {
    this.fault = await attempt(async () => this.take(api.papers(this.id)));
  }

  /** Store how the papers are wanted, in this alone; false where it was refused. */
  set(what: keyof PaperOrder, order: Partial<PaperOrder>): Promise<boolean> {
    const done = this.kept.then(() => this.setNow(what, order));
    this.kept = done.catch(() => undefined);
    return done;
  }

  /** Make the papers of the job as it stands once what is being typed in it is stored. */
  async make(job: JobState): Promise<void> {
    if (!this.desk || this.isAsking) return;
    this.isAsking = true;
    // Not every browser takes the focus off a field when a button is pressed.
    if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
    await Promise.all([job.settled(), this.kept]);
    // Fields hear of their answers before it is asked whether anything waits in them.
    await new Promise((done) => setTimeout(done));
    // Papers without what is typed are not what was asked for.
    const waiting = job.unsent.map((line) => `“${titleOf(job.job, line)}”`);
    if (waiting.length) this.fault = notSent(waiting);
    else
      this.fault = await this.minded(async () => {
        await this.take(api.makePapers(this.id, this.desk!.revision));
        await job.load();
      });
    this.isAsking = false;
  }

  private async setNow(what: keyof PaperOrder, order: Partial<PaperOrder>): Promise<boolean> {
    const { desk } = this;
    if (!desk) return false;
    const fault = await this.minded(
      () => this.take(api.wantPapers(this.id, order, desk.revision)),
      () => delete this.refused[what],
    );
    if (fault) this.refused[what] = fault;
    else delete this.refused[what];
    return !fault;
  }

  /** Do something that another window may have overtaken: then what it wrote is shown. */
  private async minded(action: () => Promise<void>, forget?: () => void): Promise<Fault | null> {
    const fault = await attempt(action, forget);
    if (fault?.code === "changed-elsewhere") await this.load();
    return fault;
  }

  private async take(answer: Promise<PaperDesk>): Promise<void> {
    const [desk, isLate] = await this.turns.ask(answer);
    if (isLate) return;
    if (desk.files.length && !this.desk?.files.length) this.made += 1;
    this.desk = desk;
    if (desk.files.length && !desk.files.some((file) => file.name === this.shown))
      this.shown = desk.files[0]!.name;
  }
}

const notSent = (lines: string[]): Fault => ({
  code: "not-sent",
  message: `No papers were made: not sent yet is ${lines.join(", ")}`,
  where: "",
  remedy: "Send it with Enter, or let it go with Escape, in its field; then make them.",
  line: "",
});
