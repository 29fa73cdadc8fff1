/** Text that stays readable over lines: a halo of paper, and no two texts over each other. */
import { FONT, type Palette } from "./palette";

interface Box {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

interface Taken extends Box {
  /** A sign stands here, which is drawn over what is written. */
  isSign: boolean;
}

const HALO_PX = 4;
const GAP_PX = 3;

/** Places are looked up by squares of this size: a drawing may have thousands of texts. */
const CELL_PX = 64;

export class Labels {
  private readonly cells = new Map<string, Taken[]>();

  constructor(
    private readonly c: CanvasRenderingContext2D,
    private readonly palette: Palette,
  ) {}

  /** Keep the place of a sign free of texts. */
  keep(x: number, y: number, radius: number): void {
    this.keepBox(x - radius, y - radius, x + radius, y + radius, true);
  }

  keepBox(x0: number, y0: number, x1: number, y1: number, isSign = false): void {
    const box = { x0, y0, x1, y1, isSign };
    for (const key of keysOf(box)) {
      const cell = this.cells.get(key);
      if (cell) cell.push(box);
      else this.cells.set(key, [box]);
    }
  }

  private isFree(box: Box, ofSigns = false): boolean {
    return !keysOf(box).some((key) =>
      this.cells
        .get(key)
        ?.some(
          (t) =>
            (t.isSign || !ofSigns) &&
            box.x0 < t.x1 &&
            box.x1 > t.x0 &&
            box.y0 < t.y1 &&
            box.y1 > t.y0,
        ),
    );
  }

  /** Whether a sign would lie over a text. */
  isUnderSign(text: string, x: number, y: number, size: number): boolean {
    const half = this.widthOf(text, size) / 2;
    return !this.isFree({ x0: x - half, y0: y - size / 2, x1: x + half, y1: y + size / 2 }, true);
  }

  /** Width of a text without its halo, px. */
  widthOf(text: string, size: number): number {
    this.c.font = `600 ${size}px ${FONT}`;
    return this.c.measureText(text).width;
  }

  /** Write a text centred at a place if there is room, or in any case if `must`. */
  write(
    text: string,
    x: number,
    y: number,
    colour: string,
    size = 12,
    must = false,
    gap = GAP_PX,
  ): boolean {
    const c = this.c;
    const half = this.widthOf(text, size) / 2 + gap;
    const box = { x0: x - half, y0: y - size / 2 - gap, x1: x + half, y1: y + size / 2 + gap };
    if (!must && !this.isFree(box)) return false;
    this.keepBox(box.x0, box.y0, box.x1, box.y1);
    c.textAlign = "center";
    c.textBaseline = "middle";
    c.lineJoin = "round";
    c.lineWidth = Math.min(HALO_PX, 2 * gap);
    c.strokeStyle = this.palette.paper;
    c.strokeText(text, x, y);
    c.fillStyle = colour;
    c.fillText(text, x, y);
    return true;
  }
}

function keysOf(box: Box): string[] {
  const found: string[] = [];
  const at = (px: number): number => Math.floor(px / CELL_PX);
  for (let i = at(box.x0); i <= at(box.x1); i++)
    for (let j = at(box.y0); j <= at(box.y1); j++) found.push(`${i} ${j}`);
  return found;
}
