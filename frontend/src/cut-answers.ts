/** The questions asked at the machine, and what the answers become as texts with units. */
import type { CutBounds, CutSaid, PlannedPass } from "./api";
import { heldBy, minutes, MM_PER_INCH, roughness, small, UM_PER_UIN, type Unit } from "./words";

export const QUESTIONS = ["pass", "time", "size", "finish", "wire", "breaks", "check"] as const;
export type Question = (typeof QUESTIONS)[number];

export interface Answers {
  pass: number;
  hours: string;
  minutes: string;
  seconds: string;
  size: string;
  sizeUnit: "µm" | "in";
  finish: string;
  finishUnit: "µm" | "µin";
  wire: string;
  wireUnit: "kg" | "lb";
  breaks: string;
  note: string;
}

export function blank(unit: Unit): Answers {
  const isInch = unit === "in";
  return {
    pass: 0,
    hours: "",
    minutes: "",
    seconds: "",
    size: "",
    sizeUnit: isInch ? "in" : "µm",
    finish: "",
    finishUnit: isInch ? "µin" : "µm",
    wire: "",
    wireUnit: isInch ? "lb" : "kg",
    breaks: "",
    note: "",
  };
}

export function timeText(a: Answers): string {
  const parts: string[] = [];
  if (a.hours) parts.push(`${a.hours} h`);
  if (a.minutes) parts.push(`${a.minutes} min`);
  if (a.seconds) parts.push(`${a.seconds} s`);
  return parts.join(" ");
}

export const minutesOf = (a: Answers): number =>
  60 * Number(a.hours || 0) + Number(a.minutes || 0) + Number(a.seconds || 0) / 60;

/** How far a time is off what was predicted, in words; empty where eight cuts of ten take as long. */
export function offBy(a: Answers, one: PlannedPass): string {
  const [took, { low, likely, high }] = [minutesOf(a), one.minutes];
  if (!took || (took >= low && took <= high)) return "";
  const times = Number(Math.max(took / likely, likely / took).toPrecision(2));
  return `${timeText(a)} is ${times} times ${took < likely ? "shorter" : "longer"} than the ${minutes(likely)} predicted`;
}

/** Whether a time is so far off that it is more likely a slip of the pen: the record asks so too. */
export const isFarOff = (a: Answers, { believed_min: [least, most] }: PlannedPass): boolean =>
  minutesOf(a) > 0 && (minutesOf(a) < least || minutesOf(a) > most);

const sizeOf = (text: string): number => Number(text.replace("−", "-"));

/** Whether a size does not say if metal is left or missing: that is asked, not guessed. */
export const lacksSign = (text: string): boolean => !/^[+−-]/.test(text) && !!sizeOf(text);

/** Where a pass leaves the wall for those after it, in words; empty for the last. */
export function leaves(one: PlannedPass, unit: Unit): string {
  const [least, most] = one.leaves_um.map((um) => small(um, unit));
  const word = unit === "in" ? "in" : "µm";
  if (!one.leaves_um[1]) return "";
  return least === most ? `${most} ${word}` : `${least} to ${most} ${word}`;
}

/** Answers as the server reads them; an empty text says nothing. */
export function saidOf(a: Answers): CutSaid {
  const isNumber = (text: string): boolean => /\d/.test(text);
  return {
    pass_number: a.pass,
    time: timeText(a),
    length: "",
    size_error: isNumber(a.size) ? `${a.size} ${a.sizeUnit}` : "",
    finish: a.finish ? `Ra ${a.finish} ${a.finishUnit}` : "",
    wire_used: a.wire ? `${a.wire} ${a.wireUnit}` : "",
    breaks: a.breaks,
    note: a.note,
  };
}

const KG_PER_LB = 0.45359237;

export const mass = (kg: number, unit: Unit): string =>
  unit === "in" ? `${(kg / KG_PER_LB).toPrecision(3)} lb` : `${kg.toPrecision(3)} kg`;

/** What was predicted of each question, in words. */
export function predicted(question: Question, one: PlannedPass, unit: Unit): string {
  switch (question) {
    case "time":
      return `${minutes(one.minutes.likely)} (${minutes(one.minutes.low)} to ${minutes(one.minutes.high)})`;
    case "size":
      return `within ±${heldBy(one.tolerance_um, unit)} ${unit === "in" ? "in" : "µm"}`;
    case "finish":
      return `Ra ${roughness(one.ra_um, unit)} ${unit === "in" ? "µin" : "µm"}`;
    case "wire":
      return mass(one.wire_kg, unit);
    default:
      return "";
  }
}

const UM_PER_INCH = 1000 * MM_PER_INCH;

/** Where the wall of a pass with skims after it stands by what is typed: how a slip is seen. */
export function finishedAt(a: Answers, one: PlannedPass): string {
  const [least, most] = one.leaves_um;
  if (!most || least !== most || !/\d/.test(a.size) || lacksSign(a.size)) return "";
  const unit = a.sizeUnit === "in" ? "in" : "mm";
  const um = most + sizeOf(a.size) * (a.sizeUnit === "in" ? UM_PER_INCH : 1);
  const where = um < 0 ? "inside" : "above";
  return `The wall then stands ${small(Math.abs(um), unit)} ${a.sizeUnit} ${where} the finished one.`;
}

/** Why an answer cannot be right, said while it is typed; empty where it can. */
export function impossible(question: Question, a: Answers, one: PlannedPass, b: CutBounds): string {
  const beyond = (value: number, [least, most]: [number, number], said: (v: number) => string) =>
    value < least
      ? `Too little: no machine does less than ${said(least)}. Check the number and its unit.`
      : value > most
        ? `Too much: no machine does more than ${said(most)}. Check the number and its unit.`
        : "";
  switch (question) {
    case "time": {
      const [slow, fast] = b.feed_mm_per_min;
      const room: [number, number] = [
        Math.max(b.minutes[0], one.wall_mm / fast),
        Math.min(b.minutes[1], one.wall_mm / slow),
      ];
      return minutesOf(a) ? beyond(minutesOf(a), room, minutes) : "";
    }
    case "size": {
      const factor = a.sizeUnit === "in" ? UM_PER_INCH : 1;
      const most = b.size_error_um / factor;
      const off = Math.abs(sizeOf(a.size));
      return off > most
        ? `No wall is off by more than ${Number(most.toPrecision(3))} ${a.sizeUnit}. Check the number and its unit.`
        : "";
    }
    case "finish": {
      const factor = a.finishUnit === "µin" ? UM_PER_UIN : 1;
      const said = (um: number): string =>
        `Ra ${Number((um / factor).toPrecision(3))} ${a.finishUnit}`;
      return a.finish ? beyond(Number(a.finish) * factor, b.ra_um, said) : "";
    }
    case "wire": {
      const factor = a.wireUnit === "lb" ? KG_PER_LB : 1;
      const said = (kg: number): string => `${Number((kg / factor).toPrecision(3))} ${a.wireUnit}`;
      return a.wire ? beyond(Number(a.wire) * factor, b.wire_kg, said) : "";
    }
    default:
      return "";
  }
}
