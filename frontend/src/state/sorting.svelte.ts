/** Which jobs are listed, and in which order; kept for the visit. */
import type { ListWish, Stage } from "../api";

export type Column = "title" | "added" | "customer" | "due" | "stage" | "each" | "attention";

export const STAGES: Stage[] = ["open", "quoted", "ordered", "done", "declined"];
const KEY = "kerfwright.list";
/** Columns that are first wanted with the largest on top. */
const DOWN_FIRST: Column[] = ["added", "each", "attention"];
/** Rows at first, and with each press of "more". */
export const A_PART = 100;

type Kept = Pick<Sorting, "by" | "isDown" | "stage" | "search">;

export class Sorting {
  by = $state<Column>("added");
  isDown = $state(true);
  stage = $state<Stage | "">("");
  search = $state("");
  most = $state(A_PART);

  constructor() {
    const kept = sessionStorage.getItem(KEY);
    if (kept) Object.assign(this, JSON.parse(kept) as Kept);
  }

  /** What the server is asked for. */
  get wish(): ListWish {
    const { search, stage, by, isDown, most } = this;
    return { search, stage, by, rising: !isDown, most };
  }

  /** Sort by a column, or by the same the other way round. */
  press(by: Column): void {
    this.isDown = by === this.by ? !this.isDown : DOWN_FIRST.includes(by);
    this.by = by;
    this.keep();
  }

  only(stage: Stage | ""): void {
    this.stage = stage;
    this.keep();
  }

  /** Another list than before begins at its top. */
  keep(): void {
    this.most = A_PART;
    const { by, isDown, stage, search } = this;
    sessionStorage.setItem(KEY, JSON.stringify({ by, isDown, stage, search }));
  }
}
