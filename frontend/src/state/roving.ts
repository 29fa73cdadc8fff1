/**
 * One stop of the Tab key for a table of many numbers, as the practices of WAI-ARIA have it: inside,
 * arrows go from one to the next, Home and End to the ends of a row, with Ctrl to those of the table.
 */
import type { Attachment } from "svelte/attachments";

const STOPS = "button, a[href], input, select, summary";
const PAGE = 10;
/** Fields that need the arrows themselves. */
const OWN_KEYS = 'input:not([type="checkbox"]), select, textarea';

const stopsIn = (place: Element): HTMLElement[] =>
  [...place.querySelectorAll<HTMLElement>(STOPS)].filter((one) => !one.matches(":disabled"));

/** Rows that hold something to go to. */
const rowsOf = (host: Element): HTMLElement[][] =>
  [...host.querySelectorAll("tr, li")].map(stopsIn).filter((row) => row.length > 0);

/** Column of a table that a stop is in, or its place in a row of a list. */
const columnOf = (row: HTMLElement[], one: HTMLElement): number =>
  one.closest<HTMLTableCellElement>("td, th")?.cellIndex ?? row.indexOf(one);

/** What of a row stands in a column, or next before it. */
const inColumn = (row: HTMLElement[], column: number): HTMLElement =>
  row.findLast((one) => columnOf(row, one) <= column) ?? row[0]!;

function goal(e: KeyboardEvent, rows: HTMLElement[][], from: HTMLElement): HTMLElement | undefined {
  const at = rows.findIndex((row) => row.includes(from));
  const row = rows[at];
  if (!row) return undefined;
  const k = row.indexOf(from);
  const clamped = (i: number): HTMLElement =>
    inColumn(rows[Math.min(rows.length - 1, Math.max(0, i))]!, columnOf(row, from));
  switch (e.key) {
    case "ArrowRight":
      return row[k + 1];
    case "ArrowLeft":
      return row[k - 1];
    case "ArrowDown":
      return clamped(at + 1);
    case "ArrowUp":
      return clamped(at - 1);
    case "PageDown":
      return clamped(at + PAGE);
    case "PageUp":
      return clamped(at - PAGE);
    case "Home":
      return (e.ctrlKey ? rows[0] : row)?.[0];
    case "End":
      return (e.ctrlKey ? rows.at(-1) : row)?.at(-1);
    default:
      return undefined;
  }
}

const KEYS = /^(Arrow(Right|Left|Down|Up)|Page(Down|Up)|Home|End)$/;

export const roving: Attachment<HTMLElement> = (host) => {
  let current: HTMLElement | undefined;

  function settle(): void {
    const stops = stopsIn(host);
    if (!current || !stops.includes(current)) current = stops[0];
    for (const one of stops) {
      const index = one === current ? 0 : -1;
      if (one.tabIndex !== index) one.tabIndex = index;
    }
  }

  function focused(e: FocusEvent): void {
    const stop = (e.target as HTMLElement).closest<HTMLElement>(STOPS);
    if (!stop || stop === current) return;
    if (current) current.tabIndex = -1;
    current = stop;
    stop.tabIndex = 0;
  }

  function pressed(e: KeyboardEvent): void {
    const from = e.target as HTMLElement;
    if (!KEYS.test(e.key) || e.altKey || e.metaKey || e.shiftKey || from.matches(OWN_KEYS)) return;
    const next = goal(e, rowsOf(host), from);
    // At an end, too, the key is the table's: the page does not scroll away.
    e.preventDefault();
    next?.focus();
  }

  const watch = new MutationObserver(settle);
  watch.observe(host, { childList: true, subtree: true, attributeFilter: ["disabled"] });
  host.addEventListener("focusin", focused);
  host.addEventListener("keydown", pressed);
  settle();
  return () => {
    watch.disconnect();
    host.removeEventListener("focusin", focused);
    host.removeEventListener("keydown", pressed);
  };
};
