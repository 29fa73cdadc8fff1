/** Numbers as people read them, in the unit they chose. */
import type { Fault, Said } from "./api";

export type Unit = "mm" | "in";

/** What a person may say that a contour is. */
export const ROLES: [string, string][] = [
  ["opening", "opening: the inside leaves"],
  ["outline", "outline: the outside leaves"],
  ["not-cut", "not cut, but a wall"],
  ["reference", "reference line, no wall"],
  ["start", "start hole"],
  ["stock", "edge of the stock"],
];

/** What becomes of the inside of an opening. */
export const INSIDES: [string, string][] = [
  ["small", "cut away where a slug is too small to catch"],
  ["unattended", "cut away up to a size, so that nobody has to be there"],
  ["always", "cut away wherever it can be done"],
  ["never", "always a slug"],
];

export const MM_PER_INCH = 25.4;
export const UM_PER_UIN = 0.0254;
const HOUR_MIN = 60;
const KG_PER_LB = 0.45359237;
const OZ_PER_LB = 16;

export const said = (text: Said, unit: Unit): string => (unit === "in" ? text.inch : text.metric);

/** A coordinate as one word: after its hyphen a line would be broken, after a minus sign not. */
export const unbroken = (text: string): string => text.replace(/\b([XYZ])-(?=\d)/g, "$1−");

/** A text that has a form of its own in inches where it holds lengths, in the unit that is shown. */
export const wordsIn = (text: string, inch: string, unit: Unit): string =>
  unbroken((unit === "in" && inch) || text);

/** A sentence with its full stop: one, whether the server wrote it or not. */
export function stopped(text: string): string {
  const bare = text.trim();
  return !bare || /[.!?…]$/.test(bare) ? bare : `${bare}.`;
}

/** What is wrong and what to do about it, as two sentences. */
export const faultSaid = (fault: { message: string; remedy: string }): string =>
  unbroken(`${stopped(fault.message)} ${stopped(fault.remedy)}`)
    .trim()
    // A word of ours, not a name or a value that somebody wrote.
    .replace(/^[a-z]+(?= )/, (word) => word[0]!.toUpperCase() + word.slice(1));

/** A coordinate or length with its usual decimals: a micrometre, or a tenth of a thou. */
export function length(mm: number, unit: Unit): string {
  const text = unit === "in" ? (mm / MM_PER_INCH).toFixed(4) : mm.toFixed(3);
  return text.replace("-", "−");
}

/** The diameter of a wire as it is bought. */
export const wireSize = (mm: number, unit: Unit): string =>
  unit === "in" ? `${length(mm, unit)} in` : `${mm} mm`;

export function fine(mm: number, unit: Unit): string {
  return unit === "in" ? (mm / MM_PER_INCH).toFixed(5) : mm.toFixed(4);
}

export function feed(mmPerMin: number, unit: Unit): string {
  return unit === "in" ? (mmPerMin / MM_PER_INCH).toFixed(4) : mmPerMin.toFixed(2);
}

/** What is less is said as 0, and so is what has no digit at the last place of inches shown. */
const LEAST_UM = 0.001;

export function small(um: number, unit: Unit): string {
  if (Math.abs(um) < LEAST_UM) return "0";
  if (unit === "mm") return `${Number(um.toPrecision(3))}`;
  const text = (um / 1000 / MM_PER_INCH).toFixed(5).replace(/0$/, "");
  return Number(text) ? text : "0";
}

/** What a person asked keeps more digits than what was computed. */
const EXACT_DIGITS = { held: 4, asked: 5 };
const DIGITS = 3;

/**
 * A limit, 0 or above: as it is where a few digits write it, else to three digits on the side on
 * which it says no more than it holds. As `foundation.directed.shown` writes it.
 */
function directed(value: number, use: keyof typeof EXACT_DIGITS): string {
  if (!(value > 0)) return "0";
  const exact = Number(value.toPrecision(EXACT_DIGITS[use]));
  if (Math.abs(exact - value) <= 1e-10 * value) return plainly(exact);
  const decimals = Math.max(0, DIGITS - 1 - Math.floor(Math.log10(value)));
  const steps = Number((value * 10 ** decimals).toPrecision(11));
  const round = use === "held" ? Math.ceil : Math.floor;
  return plainly(Number((round(steps) / 10 ** decimals).toFixed(decimals)));
}

const plainly = (value: number): string => value.toFixed(12).replace(/0+$/, "").replace(/\.$/, "");

const inUnit = (um: number, unit: Unit): number => (unit === "in" ? um / 1000 / MM_PER_INCH : um);

/** A promise, or how far something may be off, in µm or inches: never closer than it is. */
export const heldBy = (um: number, unit: Unit): string => directed(inUnit(um, unit), "held");

/** A demand, or a limit to be kept, in the unit of deviations: never wider than it is. */
export const askedOff = (um: number, unit: Unit): string => directed(um / offUnitUm(unit), "asked");

export function roughness(um: number, unit: Unit): string {
  return unit === "in" ? (um / UM_PER_UIN).toFixed(0) : um.toFixed(2);
}

export const smallUnit = (unit: Unit): string => (unit === "in" ? "in" : "µm");
export const roughUnit = (unit: Unit): string => (unit === "in" ? "µin" : "µm");

export function minutes(value: number): string {
  const seconds = Math.round(value * 60);
  if (seconds < 60) return `${seconds} s`;
  const whole = Math.round(value);
  const hours = Math.floor(whole / HOUR_MIN);
  if (hours === 0) return `${whole} min`;
  return `${hours} h ${String(whole % HOUR_MIN).padStart(2, "0")} min`;
}

/** Elapsed time on a clock face of the job: 3:07. */
export function clock(value: number): string {
  const whole = Math.floor(value + 1e-6);
  return `${Math.floor(whole / HOUR_MIN)}:${String(whole % HOUR_MIN).padStart(2, "0")}`;
}

export function hours(value: number): string {
  return minutes(value * HOUR_MIN);
}

const MONEY = new Intl.NumberFormat("en", { minimumFractionDigits: 2, maximumFractionDigits: 2 });

export const money = (text: string | number): string => MONEY.format(Number(text));

export function day(iso: string): string {
  if (!iso) return "";
  const date = new Date(iso.length === 10 ? `${iso}T12:00:00` : iso);
  return date.toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" });
}

/** Whether a day of the ledger lies before today, where the page is. */
export function hasPassed(iso: string): boolean {
  const now = new Date();
  const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()]
    .map((part) => String(part).padStart(2, "0"))
    .join("-");
  return iso.length === 10 && iso < today;
}

export const HALF_A_DATE: Fault = {
  code: "date-half",
  message: "This date is not whole: day, month and year are all needed.",
  where: "",
  remedy: "Fill in what is empty. Escape leaves the date as it was; all three empty takes it away.",
  line: "",
};

/** A day and the time of it. */
export function moment(iso: string): string {
  const time = new Date(iso).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  return `${day(iso)}, ${time}`;
}

/** A deviation: micrometres, or tenths of a thou where inches are read. */
const UM_PER_TENTH = 2.54;

export const offUnitUm = (unit: Unit): number => (unit === "in" ? UM_PER_TENTH : 1);
export const offUnit = (unit: Unit): string => (unit === "in" ? "tenths" : "µm");

export function offBy(um: number, unit: Unit): string {
  if (Math.abs(um) < LEAST_UM) return "0";
  const value = um / offUnitUm(unit);
  const size = Math.abs(value);
  const digits = size >= 100 ? 0 : size >= 1 ? 1 : size >= LEAST_OF_TWO || !size ? 2 : 3;
  const text = value.toFixed(digits);
  // What is nought as it is shown has no side.
  return Number(text) ? text.replace("-", "−") : "0";
}

const LEAST_OF_TWO = 0.1;

/** A tick of a scale with as many decimals as tell it from half the end of the scale. */
export function tick(um: number, endUm: number, unit: Unit): string {
  const end = endUm / offUnitUm(unit);
  const decimals = Math.max(0, 1 - Math.floor(Math.log10(end) + 1e-9));
  return plainly(Number((um / offUnitUm(unit)).toFixed(decimals))).replace("-", "−");
}

/** What the attendant does, with a mass in it as it stands elsewhere on the page. */
export function instructed(text: string, kg: number | null, unit: Unit): string {
  return calm(text).replace(/\((about )?[\d.]+ k?g\)/i, (said, about: string | undefined) =>
    kg === null ? said : `(${about ?? ""}${mass(kg, unit)})`,
  );
}

export function mass(kg: number, unit: Unit): string {
  if (unit === "in") {
    const pounds = kg / KG_PER_LB;
    return pounds >= 1
      ? `${pounds.toFixed(2)} lb`
      : `${Number((pounds * OZ_PER_LB).toPrecision(3))} oz`;
  }
  return kg >= 1 ? `${kg.toFixed(2)} kg` : `${Number((kg * 1000).toPrecision(3))} g`;
}

/** Units of a quantity of a reason by the end of its name, each with that of an inch shop. */
const INCHES: [string, string, number][] = [
  ["_mm2_per_min", "_in2_per_min", MM_PER_INCH ** 2],
  ["_mm_per_min", "_in_per_min", MM_PER_INCH],
  ["_um", "_in", 1000 * MM_PER_INCH],
  ["_mm", "_in", MM_PER_INCH],
  ["_kg", "_lb", KG_PER_LB],
];

/** A quantity and its value as an inch shop reads them; what has no other unit stays. */
export function inInches(name: string, value: number): [string, number] {
  // Three digits: more are the conversion's.
  if (/(^|[_ ])ra_um$/.test(name))
    return [name.replace(/_um$/, "_uin"), Number((value / UM_PER_UIN).toPrecision(3))];
  const found = INCHES.find(([tail]) => name.endsWith(tail));
  return found ? [name.slice(0, -found[0].length) + found[1], value / found[2]] : [name, value];
}

/** A quantity of a reason as words: rough_feed_mm_per_min → rough feed (mm/min). */
export function quantity(name: string): string {
  const amount = /^amount_([A-Z]{3})$/.exec(name);
  if (amount) return amount[1]!;
  const units: [string, string][] = [
    ["_n_per_mm2", "N/mm²"],
    ["_per_h", "an hour"],
    ["_mm2_per_min", "mm²/min"],
    ["_mm_per_min", "mm/min"],
    ["_kg_per_m3", "kg/m³"],
    ["_m_per_min", "m/min"],
    ["_in2_per_min", "in²/min"],
    ["_in_per_min", "in/min"],
    ["_in", "in"],
    ["_uin", "µin"],
    ["_lb", "lb"],
    ["_um", "µm"],
    ["_mm", "mm"],
    ["_mj", "mJ"],
    ["_min", "min"],
    ["_kg", "kg"],
  ];
  const words = (text: string): string => text.replaceAll("_", " ").replace(/\bra\b/, "Ra");
  for (const [tail, unit] of units)
    if (name.endsWith(tail)) return `${words(name.slice(0, -tail.length))} (${unit})`;
  return words(name);
}

export function plainNumber(value: number): string {
  if (value === 0) return "0";
  const size = Math.abs(value);
  const text = size >= 100 ? value.toFixed(2) : value.toPrecision(4);
  return String(Number(text)).replace("-", "−");
}

/** Instructions stand in programs in capitals; on the page they are read, not shouted. */
export function calm(text: string): string {
  if (text !== text.toUpperCase()) return text;
  return text.toLowerCase().replace(/\b[hps]\d+\b/g, (id) => id.toUpperCase());
}
