/** The strip: the job's time from left to right.  Above the line somebody is there, below the wire runs alone. */
import type { Freed, Strip } from "../api";
import { clock, minutes } from "../words";
import { dashOf, FONT, inkOf, type Palette } from "./palette";
import { drawFreed } from "./stripmarks";

export interface StripScene {
  strip: Strip | null;
  minute: number;
  /** Contour pointed at, whose stretches are lifted out. */
  contour: string;
  pieces: Freed[];
}

export const SIDE_PX = 14;
const AXIS_PX = 20;
const LEAST_PEG_PX = 15;
const LONG_PX = 92;
/** One head stands for moments over this much at most. */
const MOST_PEG_PX = 150;
/** Bars nearer than this run together: their height tells the share of time instead. */
const LEAST_GAP_PX = 2;
/** A cut narrower than this is drawn together with its neighbours. */
const LEAST_CUT_PX = 4;

const WORDS: Record<string, string> = {
  "set-up": "set up",
  loading: "load",
  threading: "thread",
  stop: "stop",
  rough: "rough",
  "cut-off": "cut off",
  skim: "skim",
};

export const wordOf = (kind: string): string => WORDS[kind] ?? kind;

interface Peg {
  bars: [number, number][];
  to: number;
  count: number;
  minutes: number;
  words: Set<string>;
}

export function drawStrip(
  c: CanvasRenderingContext2D,
  width: number,
  height: number,
  palette: Palette,
  scene: StripScene,
): void {
  const ratio = devicePixelRatio;
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, width, height);
  const { strip } = scene;
  if (!strip || strip.total_min <= 0) return;
  const x = (minute: number): number =>
    SIDE_PX + (minute / strip.total_min) * (width - 2 * SIDE_PX);
  const floor = height - AXIS_PX;
  const waist = Math.round(floor * 0.52);
  c.fillStyle = palette.attendedPaper;
  c.fillRect(SIDE_PX, 0, width - 2 * SIDE_PX, waist);
  alone(c, palette, scene, strip, x, waist, floor);
  pegs(c, palette, strip, x, waist);
  axis(c, palette, strip, x, width, floor);
  drawFreed(c, palette, scene.pieces, x, floor);
  needle(c, palette, x(scene.minute), height, floor);
}

function alone(
  c: CanvasRenderingContext2D,
  palette: Palette,
  scene: StripScene,
  strip: Strip,
  x: (m: number) => number,
  waist: number,
  floor: number,
): void {
  const top = waist + 6;
  const high = floor - waist - 10;
  for (const { from: x0, to, pass, isFaint } of cuts(strip, scene.contour, x)) {
    const wide = Math.max(to - x0, 0.6);
    c.fillStyle = inkOf(palette, pass);
    c.globalAlpha = isFaint ? 0.25 : 1;
    // The bar is lower with each pass, so that passes differ without their colours.
    const tall = high * Math.max(0.4, 1 - 0.2 * (pass - 1));
    if (dashOf(pass).length === 0) c.fillRect(x0, top + high - tall, wide, tall);
    else hatch(c, x0, top + high - tall, wide, tall, 3 + pass);
    c.globalAlpha = 1;
  }
  c.font = `600 11px ${FONT}`;
  c.textAlign = "center";
  c.textBaseline = "middle";
  for (const gap of alonePeriods(strip)) {
    const x0 = x(gap[0]);
    const x1 = x(gap[1]);
    if (x1 - x0 < LONG_PX) continue;
    const text = `alone ${minutes(gap[1] - gap[0])}`;
    const half = c.measureText(text).width / 2 + 7;
    const middle = (x0 + x1) / 2;
    c.fillStyle = palette.paper;
    c.beginPath();
    c.roundRect(middle - half, top + high / 2 - 9, 2 * half, 18, 9);
    c.fill();
    c.fillStyle = palette.ink;
    c.fillText(text, middle, top + high / 2 + 0.5);
  }
}

interface Cutting {
  from: number;
  to: number;
  pass: number;
  isFaint: boolean;
}

/** Cuts of one pass without room between them are drawn as one: a comb of hairlines says nothing. */
function cuts(strip: Strip, contour: string, x: (m: number) => number): Cutting[] {
  const found: Cutting[] = [];
  for (const s of strip.stretches) {
    if (s.end_point <= s.first_point) continue;
    const from = x(s.begin_min);
    const to = x(s.begin_min + s.minutes);
    const pass = s.pass_number ?? 1;
    const isFaint = !!contour && s.contour_id !== contour;
    const last = found.at(-1);
    const isOne = last?.pass === pass && last.isFaint === isFaint;
    if (last && isOne && from - last.to < LEAST_GAP_PX && to - from < LEAST_CUT_PX) last.to = to;
    else found.push({ from, to, pass, isFaint });
  }
  return found;
}

function hatch(
  c: CanvasRenderingContext2D,
  x: number,
  y: number,
  wide: number,
  tall: number,
  step: number,
): void {
  c.save();
  c.beginPath();
  c.rect(x, y, wide, tall);
  c.clip();
  const alpha = c.globalAlpha;
  c.globalAlpha = alpha * 0.3;
  c.fillRect(x, y, wide, tall);
  c.globalAlpha = alpha;
  c.beginPath();
  // Lines start at a multiple of the step, so that neighbours join.
  for (let k = Math.floor((x - tall) / step) * step; k < x + wide; k += step) {
    c.moveTo(k, y + tall);
    c.lineTo(k + tall, y);
  }
  c.strokeStyle = c.fillStyle;
  c.lineWidth = 1.2;
  c.stroke();
  c.restore();
}

/** Stretches of time in which nobody has to be there. */
export function alonePeriods(strip: Strip): [number, number][] {
  const found: [number, number][] = [];
  let from = 0;
  for (const s of strip.stretches)
    if (s.is_attended) {
      if (s.begin_min > from) found.push([from, s.begin_min]);
      from = s.begin_min + s.minutes;
    }
  if (strip.total_min > from) found.push([from, strip.total_min]);
  return found;
}

/** Moments that lie near each other share one head and one word; each keeps its own bar. */
function gathered(strip: Strip, x: (m: number) => number): Peg[] {
  const found: Peg[] = [];
  for (const s of strip.stretches) {
    if (!s.is_attended) continue;
    const from = x(s.begin_min);
    const to = x(s.begin_min + s.minutes);
    const last = found.at(-1);
    const isNear = !!last && from - last.to < LEAST_PEG_PX;
    if (last && isNear && to - last.bars[0]![0] < MOST_PEG_PX) {
      last.bars.push([from, to]);
      last.to = to;
      last.count++;
      last.minutes += s.minutes;
      last.words.add(wordOf(s.kind));
    } else
      found.push({
        bars: [[from, to]],
        to,
        count: 1,
        minutes: s.minutes,
        words: new Set([wordOf(s.kind)]),
      });
  }
  return found;
}

interface Run {
  from: number;
  to: number;
  /** How much of it somebody is there. */
  share: number;
}

/** Bars in the order of time; those without room between them run together. */
export function runs(bars: [number, number][]): Run[] {
  const found: (Run & { there: number })[] = [];
  for (const [from, to] of bars) {
    const last = found.at(-1);
    if (last && from - last.to < LEAST_GAP_PX) {
      last.there += Math.max(to - Math.max(from, last.to), 0);
      last.to = Math.max(last.to, to);
    } else found.push({ from, to, share: 1, there: to - from });
  }
  for (const run of found) run.share = Math.min(run.there / (run.to - run.from), 1);
  return found;
}

function pegs(
  c: CanvasRenderingContext2D,
  palette: Palette,
  strip: Strip,
  x: (m: number) => number,
  waist: number,
): void {
  c.font = `600 11px ${FONT}`;
  c.textBaseline = "middle";
  let textEnd = SIDE_PX;
  for (const peg of gathered(strip, x)) {
    const from = peg.bars[0]![0];
    const middle = (from + peg.to) / 2;
    c.fillStyle = palette.attended;
    for (const run of runs(peg.bars)) {
      // Bars that nobody could tell apart are one, as high as its share of the time.
      const tall = (waist - 24) * Math.max(run.share, 0.2);
      c.fillRect(run.from, waist - tall, Math.max(run.to - run.from - 0.6, 1), tall);
    }
    // A head on the shoulders: somebody stands here.
    c.beginPath();
    c.arc(middle, 17, 5, 0, 2 * Math.PI);
    c.fill();
    c.beginPath();
    c.moveTo(middle - 4, waist);
    c.lineTo(middle + 4, waist);
    c.lineTo(middle, waist + 6);
    c.fill();
    const what = peg.words.size <= 2 ? [...peg.words].join(" + ") : `${peg.count} moments`;
    const long = `${peg.count > 2 && peg.words.size <= 2 ? `${peg.count} × ` : ""}${what}, ${minutes(peg.minutes)}`;
    // The longest text that fits before the next is written; none where there is no room.
    for (const text of [long, what, `×${peg.count}`]) {
      const wide = c.measureText(text).width;
      const at = Math.max(middle - wide / 2, SIDE_PX);
      const room = c.canvas.width / devicePixelRatio - SIDE_PX;
      const left = Math.min(at, room - wide);
      if (left < textEnd) continue;
      c.textAlign = "left";
      c.fillStyle = palette.ink;
      c.fillText(text, left, 6.5);
      textEnd = left + wide + 10;
      break;
    }
  }
}

function axis(
  c: CanvasRenderingContext2D,
  palette: Palette,
  strip: Strip,
  x: (m: number) => number,
  width: number,
  floor: number,
): void {
  c.strokeStyle = palette.ink;
  c.lineWidth = 1;
  c.beginPath();
  c.moveTo(SIDE_PX, floor + 0.5);
  c.lineTo(width - SIDE_PX, floor + 0.5);
  const step = tickStep(strip.total_min, width);
  c.font = `11px ${FONT}`;
  c.fillStyle = palette.muted;
  c.textAlign = "center";
  c.textBaseline = "middle";
  for (let m = 0; m <= strip.total_min; m += step) {
    const at = Math.round(x(m)) + 0.5;
    c.moveTo(at, floor);
    c.lineTo(at, floor + 4);
    c.fillText(clock(m), Math.min(Math.max(at, 16), width - 16), floor + 12);
  }
  c.stroke();
}

function tickStep(total: number, width: number): number {
  const wanted = total / Math.max(2, width / 80);
  const steps = [1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 720, 1440, 2880, 7200, 14400];
  return steps.find((step) => step >= wanted) ?? 28800;
}

function needle(
  c: CanvasRenderingContext2D,
  palette: Palette,
  at: number,
  height: number,
  floor: number,
): void {
  c.strokeStyle = palette.accent;
  c.fillStyle = palette.accent;
  c.lineWidth = 2;
  c.beginPath();
  c.moveTo(at, 0);
  c.lineTo(at, floor);
  c.stroke();
  c.beginPath();
  c.moveTo(at - 7, height - 8);
  c.lineTo(at + 7, height - 8);
  c.lineTo(at, floor - 2);
  c.closePath();
  c.fill();
}
