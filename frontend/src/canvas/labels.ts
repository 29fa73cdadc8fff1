/** Text that stays readable over lines: a halo of paper, and no two texts over each other. */
import { FONT, type Palette } from "./palette";

interface Taken {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

const HALO_PX = 4;
const GAP_PX = 3;

export class Labels {
  private taken: Taken[] = [];

  constructor(
    private readonly c: CanvasRenderingContext2D,
    private readonly palette: Palette,
  ) {}

  /** Keep a place free of texts. */
  keep(x: number, y: number, radius: number): void {
    this.taken.push({ x0: x - radius, y0: y - radius, x1: x + radius, y1: y + radius });
  }

  /** Write a text centred at a place if there is room, or in any case if `must`. */
  write(text: string, x: number, y: number, colour: string, size = 12, must = false): boolean {
    const c = this.c;
    c.font = `600 ${size}px ${FONT}`;
    const half = c.measureText(text).width / 2 + GAP_PX;
    const box = {
      x0: x - half,
      y0: y - size / 2 - GAP_PX,
      x1: x + half,
      y1: y + size / 2 + GAP_PX,
    };
    if (
      !must &&
      this.taken.some((t) => box.x0 < t.x1 && box.x1 > t.x0 && box.y0 < t.y1 && box.y1 > t.y0)
    )
      return false;
    this.taken.push(box);
    c.textAlign = "center";
    c.textBaseline = "middle";
    c.lineJoin = "round";
    c.lineWidth = HALO_PX;
    c.strokeStyle = this.palette.paper;
    c.strokeText(text, x, y);
    c.fillStyle = colour;
    c.fillText(text, x, y);
    return true;
  }
}
