/** A job that is about to be opened, asked for while its name is pointed at or pressed. */
import { api, type Job } from "../api";
import { link } from "./link.svelte";

/** Older than this, an answer is asked for anew. */
const KEPT_MS = 3000;
/** A pointer that only passes over a name asks for nothing. */
const REST_MS = 120;

interface Asked {
  id: string;
  at: number;
  job: Promise<Job>;
  /** The lines of its drawing, with the key that the job names them by. */
  geometry: Promise<[string, ArrayBuffer] | null>;
  forget: () => void;
}

class Ahead {
  private asked: Asked | null = null;
  private soon = 0;

  /** Ask once the pointer rests. */
  soonAsk(id: string): void {
    clearTimeout(this.soon);
    this.soon = window.setTimeout(() => this.ask(id), REST_MS);
  }

  leave(): void {
    clearTimeout(this.soon);
  }

  ask(id: string): void {
    clearTimeout(this.soon);
    if (this.isFresh(id)) return;
    this.drop();
    const job = api.job(id);
    const geometry = job.then(async ({ draft }): Promise<[string, ArrayBuffer] | null> =>
      draft?.geometry_key ? [draft.geometry_key, await api.geometry(id)] : null,
    );
    // Who opens the job asks again, and is told what went wrong.
    for (const answer of [job, geometry]) answer.catch(() => this.drop());
    // What has changed since is not shown.
    const forget = link.on(
      (message) => {
        if ((message.type === "job" || message.type === "work") && message.job === id) this.drop();
      },
      () => this.drop(),
    );
    this.asked = { id, at: performance.now(), job, geometry, forget };
  }

  /** What was asked for of a job and has not changed since; once. */
  take(id: string): Pick<Asked, "job" | "geometry"> | null {
    const found = this.isFresh(id) ? this.asked : null;
    this.drop();
    return found;
  }

  private isFresh(id: string): boolean {
    return this.asked?.id === id && performance.now() - this.asked.at < KEPT_MS;
  }

  private drop(): void {
    this.asked?.forget();
    this.asked = null;
  }
}

export const ahead = new Ahead();
