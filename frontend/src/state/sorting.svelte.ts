/** In which order the jobs are listed; kept for the visit. */
import type { Card } from "../api";

export type Column = "title" | "added" | "customer" | "due" | "stage" | "each" | "attention";

const KEY = "kerfwright.sorting";
const STAGES = ["open", "quoted", "ordered", "done", "declined"];
/** Columns that are first wanted with the largest on top. */
const DOWN_FIRST: Column[] = ["added", "each", "attention"];

/** Plate 2 comes before plate 10. */
const ORDER = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });

export class Sorting {
  by = $state<Column>("added");
  isDown = $state(true);

  constructor() {
    const [by, way] = (sessionStorage.getItem(KEY) ?? "").split(" ");
    if (!by) return;
    this.by = by as Column;
    this.isDown = way === "down";
  }

  press(by: Column): void {
    this.isDown = by === this.by ? !this.isDown : DOWN_FIRST.includes(by);
    this.by = by;
    sessionStorage.setItem(KEY, `${by} ${this.isDown ? "down" : "up"}`);
  }

  sorted(cards: Card[]): Card[] {
    const sign = this.isDown ? -1 : 1;
    return [...cards].sort((a, b) => {
      const [x, y] = [this.value(a), this.value(b)];
      // What says nothing comes last, whichever way.
      if (x === "" || y === "") return x === y ? 0 : x === "" ? 1 : -1;
      return sign * (typeof x === "number" ? x - (y as number) : ORDER.compare(x, y as string));
    });
  }

  private value(card: Card): string | number {
    switch (this.by) {
      case "each":
        return card.each === "" ? "" : Number(card.each);
      case "attention":
        return card.attention.length;
      case "stage":
        return STAGES.indexOf(card.stage);
      default:
        return card[this.by];
    }
  }
}
