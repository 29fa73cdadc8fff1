/** The questions asked at the machine, and what the answers become as texts with units. */
import type { CutSaid, PlannedPass } from "./api";
import { minutes, roughness, small, type Unit } from "./words";

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

/** Answers as the server reads them; an empty text says nothing. */
export function saidOf(a: Answers): CutSaid {
  const isSigned = (text: string): boolean => /\d/.test(text);
  return {
    pass_number: a.pass,
    time: timeText(a),
    length: "",
    size_error: isSigned(a.size) ? `${a.size} ${a.sizeUnit}` : "",
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
      return `within ±${small(one.tolerance_um, unit)} ${unit === "in" ? "in" : "µm"}`;
    case "finish":
      return `Ra ${roughness(one.ra_um, unit)} ${unit === "in" ? "µin" : "µm"}`;
    case "wire":
      return mass(one.wire_kg, unit);
    default:
      return "";
  }
}
