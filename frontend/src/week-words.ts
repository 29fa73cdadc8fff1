/** Moments of the shop's clock as numbers and as people read them; no zone of time enters. */
import type { Booking, Mark, Ordered, Touch } from "./week-api";

const MINUTE_MS = 60_000;
export const DAY_MIN = 24 * 60;

/** Minutes of a moment such as 2027-03-01 08:00, by a clock that never changes to summer time. */
export const minuteOf = (moment: string): number =>
  Date.parse(`${moment.replace(" ", "T")}:00Z`) / MINUTE_MS;

const dated = (minute: number): Date => new Date(minute * MINUTE_MS);
const DAY = new Intl.DateTimeFormat("en-GB", {
  weekday: "short",
  day: "numeric",
  month: "short",
  timeZone: "UTC",
});

export const dayOf = (minute: number): string => DAY.format(dated(minute)).replace(",", "");
export const timeOf = (minute: number): string => dated(minute).toISOString().slice(11, 16);
export const said = (moment: string): string => {
  const minute = minuteOf(moment);
  return `${dayOf(minute)} ${timeOf(minute)}`;
};

/** What a field of day and time holds, as the server takes it. */
export const fromField = (text: string): string | null =>
  text.slice(0, 16).replace("T", " ") || null;

export const endOf = (booking: Booking): string => booking.stages.at(-1)!.end;

export const isLate = (booking: Booking): boolean =>
  !!booking.due && minuteOf(endOf(booking)) > minuteOf(booking.due);

/** Marks of the plan that a moment is of. */
function ofPlan(job: Ordered | undefined, stages: number): Mark[] {
  return (job?.marks ?? []).filter((one) => one.stages === stages && stages > 0);
}

/** The mark by which a moment is done; one of a later moment takes it along. */
export function doneBy(touch: Touch, job: Ordered | undefined): Mark | undefined {
  return ofPlan(job, touch.stages)
    .filter((one) => one.kind === "done" && one.stage! >= touch.stage)
    .sort((a, b) => a.stage! - b.stage!)[0];
}

export function begunBy(touch: Touch, job: Ordered | undefined): Mark | undefined {
  return ofPlan(job, touch.stages)
    .filter((one) => one.kind === "begun" && one.stage === touch.stage)
    .at(-1);
}
