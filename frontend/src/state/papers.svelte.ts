/** The papers of one job: how they are wanted, and what was made for what is asked now. */
import { api, type Fault, type PaperDesk, type PaperOrder } from "../api";
import { attempt } from "./attempt";
import type { JobState } from "./job.svelte";
import { link } from "./link.svelte";
import { Turns } from "./turns";

export class PapersState {
  desk = $state.raw<PaperDesk | null>(null);
  /** What is being filled in; sent when the papers are made. */
  order = $state<PaperOrder | null>(null);
  /** Terms as they are typed, one a line. */
  terms = $state("");
  fault = $state.raw<Fault | null>(null);
  shown = $state("quote.pdf");
  /** Goes up with every set that is made, so that no old picture is shown. */
  made = $state(0);
  /** Asked for, and not begun by the server yet. */
  isAsking = $state(false);
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

  /** Make the papers of the job as it stands once what is being typed in it is stored. */
  async make(job: JobState): Promise<void> {
    const order = this.order;
    if (!order || this.isAsking) return;
    this.isAsking = true;
    // Not every browser takes the focus off a field when a button is pressed.
    if (document.activeElement instanceof HTMLInputElement) document.activeElement.blur();
    // A line that is refused says so at its field; papers without it are not what was asked for.
    if (await job.settled())
      this.fault = await attempt(async () => {
        await this.take(api.makePapers(this.id, { ...order, terms: this.asTerms() }));
        await job.load();
      });
    this.isAsking = false;
  }

  /** Null where the shop's own terms stand as they are. */
  private asTerms(): string[] | null {
    const lines = this.terms.split("\n").filter((line) => line.trim());
    const usual = this.desk?.usual.terms ?? [];
    return lines.join("\n") === usual.join("\n") ? null : lines;
  }

  private async take(answer: Promise<PaperDesk>): Promise<void> {
    const [desk, isLate] = await this.turns.ask(answer);
    if (isLate) return;
    if (desk.files.length && !this.desk?.files.length) this.made += 1;
    this.desk = desk;
    if (!this.order) {
      this.order = { ...desk.wanted };
      this.terms = (desk.wanted.terms ?? desk.usual.terms).join("\n");
    }
    if (desk.files.length && !desk.files.some((file) => file.name === this.shown))
      this.shown = desk.files[0]!.name;
  }
}
