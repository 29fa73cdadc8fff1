/** Changes whose answer was lost on its way: whether they are stored all the same. */
import { AWAY, type Change, type Fault, type Job } from "../api";

/** How long after a question that was lost, though the link stands, the next one is asked. */
export const AGAIN_MS = 1200;

/** What is said at a line where the server answers again, and a change of it did not arrive. */
export const NOT_ARRIVED = {
  code: "answer-lost",
  message: "The server could not be reached for a moment, and this is not stored.",
  where: "",
  remedy: "Send it again.",
  line: "",
};

/** The server answers again: what was typed still stands in its line, and can be sent. */
export function withoutAway(refused: Record<string, Fault>): void {
  for (const [line, fault] of Object.entries(refused))
    if (fault.code === AWAY.code) delete refused[line];
}

/** Lines of a job that a change asks for, each with whether a text is what it asks. */
function asks(wanted: Change): Map<string, (text: string) => boolean> {
  const found = new Map<string, (text: string) => boolean>();
  for (const [name, text] of Object.entries(wanted.lines ?? {}))
    for (const line of singleLines(name)) found.set(line, (now) => now === text.trim());
  for (const { contours, demands } of wanted.own ?? [])
    for (const id of contours) {
      const line = `contour ${id.toUpperCase()}`;
      const before = found.get(line) ?? (() => true);
      found.set(line, (now) => before(now) && Object.entries(demands).every(isIn(now)));
    }
  return found;
}

/** A line of several contours is stored as one of each; the name of a layer is never taken apart. */
function singleLines(name: string): string[] {
  const at = name.indexOf(",") < 0 || name.startsWith("layer ") ? -1 : name.lastIndexOf(" ");
  if (at < 0) return [name];
  const begin = name.slice(0, at + 1);
  return name
    .slice(at + 1)
    .split(",")
    .map((id) => begin + id.toUpperCase());
}

/** Whether a line of a contour holds a demand; an empty one is to be away. */
const isIn =
  (now: string) =>
  ([name, text]: [string, string]): boolean =>
    text.trim()
      ? `, ${now}, `.includes(`, ${name}=${text.trim()}, `)
      : !`, ${now}`.includes(`, ${name}=`);

const isStored = (wanted: Change, job: Job): boolean =>
  (!wanted.stage || job.card.stage === wanted.stage) &&
  [...asks(wanted)].every(([line, isAsked]) => isAsked(job.asked[line] ?? ""));

/** What this window sent and heard no answer to, until it is found stored or sent again. */
export class Lost {
  /** The revision that a step back or forth makes whose answer was lost. */
  step = 0;
  /** What is stored could not be looked at since an answer was lost. */
  isUnsure = false;
  private readonly changes = new Map<string, Change>();

  add(line: string, change: Change): void {
    this.changes.set(line, change);
  }

  drop(line: string): void {
    this.changes.delete(line);
  }

  has(line: string): boolean {
    return this.changes.has(line);
  }

  /** Whether it was this window that made a line say something. */
  isOurs(job: Job, line: string, text: string): boolean {
    const isSent = (one: Change): boolean => asks(one).get(line)?.(text) ?? false;
    return job.revision === this.step || [...this.changes.values()].some(isSent);
  }

  /** Take out what is stored all the same, and return its lines. */
  found(job: Job): string[] {
    const lines = [...this.changes].filter(([, one]) => isStored(one, job)).map(([line]) => line);
    for (const line of lines) this.changes.delete(line);
    return lines;
  }
}
