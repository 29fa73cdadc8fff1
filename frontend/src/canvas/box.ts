/** A box pulled over the drawing to pick what lies in it. */
export class PickBox {
  private readonly frame = document.createElement("div");
  private from: [number, number] | null = null;
  private to: [number, number] = [0, 0];

  constructor(host: HTMLElement) {
    this.frame.className = "pick-box";
    this.frame.hidden = true;
    host.append(this.frame);
  }

  get isOpen(): boolean {
    return this.from !== null;
  }

  begin(at: [number, number]): void {
    this.from = at;
    this.to = at;
  }

  pull(at: [number, number]): void {
    this.to = at;
    const { x0, y0, x1, y1 } = this.corners();
    this.frame.hidden = false;
    Object.assign(this.frame.style, {
      left: `${x0}px`,
      top: `${y0}px`,
      width: `${x1 - x0}px`,
      height: `${y1 - y0}px`,
    });
  }

  /** Put the box away and return its corners on the screen, the left upper one first. */
  end(): { x0: number; y0: number; x1: number; y1: number } {
    const found = this.corners();
    this.from = null;
    this.frame.hidden = true;
    return found;
  }

  dispose(): void {
    this.frame.remove();
  }

  private corners(): { x0: number; y0: number; x1: number; y1: number } {
    const [ax, ay] = this.from ?? this.to;
    const [bx, by] = this.to;
    return {
      x0: Math.min(ax, bx),
      y0: Math.min(ay, by),
      x1: Math.max(ax, bx),
      y1: Math.max(ay, by),
    };
  }
}
