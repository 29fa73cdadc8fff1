/** Pointers, wheel and keys that turn, move and near a view in space. */
import type { Orbit } from "./orbit";

const RAD_PER_PX = 0.008;
const KEY_RAD = 0.1;
const KEY_PX = 40;
const WHEEL_RATE = 0.0016;
const CLICK_PX = 5;

export interface HandEvents {
  changed(): void;
  fit(): void;
  /** A place of the screen was pointed at. */
  pick(x: number, y: number, isMore: boolean): void;
  hover(x: number, y: number): void;
  leave(): void;
  step(by: number): void;
}

export class OrbitHand {
  private readonly pointers = new Map<number, [number, number]>();
  private moved = 0;

  constructor(
    private readonly target: HTMLElement,
    private readonly orbit: Orbit,
    private readonly events: HandEvents,
  ) {
    target.addEventListener("pointerdown", this.down);
    target.addEventListener("pointermove", this.move);
    target.addEventListener("pointerup", this.up);
    target.addEventListener("pointercancel", this.cancel);
    target.addEventListener("pointerleave", this.leave);
    target.addEventListener("wheel", this.wheel, { passive: false });
    target.addEventListener("keydown", this.key);
    target.addEventListener("contextmenu", this.menu);
  }

  dispose(): void {
    this.target.removeEventListener("pointerdown", this.down);
    this.target.removeEventListener("pointermove", this.move);
    this.target.removeEventListener("pointerup", this.up);
    this.target.removeEventListener("pointercancel", this.cancel);
    this.target.removeEventListener("pointerleave", this.leave);
    this.target.removeEventListener("wheel", this.wheel);
    this.target.removeEventListener("keydown", this.key);
    this.target.removeEventListener("contextmenu", this.menu);
  }

  private at(e: PointerEvent): [number, number] {
    const box = this.target.getBoundingClientRect();
    return [e.clientX - box.left, e.clientY - box.top];
  }

  private readonly down = (e: PointerEvent): void => {
    this.target.setPointerCapture(e.pointerId);
    if (!this.pointers.size) this.moved = 0;
    this.pointers.set(e.pointerId, this.at(e));
  };

  private readonly move = (e: PointerEvent): void => {
    const now = this.at(e);
    const before = this.pointers.get(e.pointerId);
    if (!before) {
      this.events.hover(...now);
      return;
    }
    this.pointers.set(e.pointerId, now);
    const [dx, dy] = [now[0] - before[0], now[1] - before[1]];
    this.moved += Math.hypot(dx, dy);
    if (this.moved <= CLICK_PX) return;
    const other = [...this.pointers].find(([id]) => id !== e.pointerId)?.[1];
    if (other) {
      const spread = (p: [number, number]): number => Math.hypot(p[0] - other[0], p[1] - other[1]);
      this.orbit.zoom(spread(now) / Math.max(1, spread(before)));
      this.orbit.pan(dx / 2, dy / 2);
    } else if (e.shiftKey || e.buttons === 2) this.orbit.pan(dx, dy);
    else this.orbit.rotate(dx * RAD_PER_PX, dy * RAD_PER_PX);
    this.events.changed();
  };

  private readonly up = (e: PointerEvent): void => {
    const isLast = this.pointers.delete(e.pointerId) && !this.pointers.size;
    if (isLast && this.moved <= CLICK_PX)
      this.events.pick(...this.at(e), e.shiftKey || e.ctrlKey || e.metaKey);
  };

  private readonly cancel = (e: PointerEvent): void => {
    this.pointers.delete(e.pointerId);
  };

  private readonly leave = (): void => this.events.leave();
  private readonly menu = (e: Event): void => e.preventDefault();

  private readonly wheel = (e: WheelEvent): void => {
    e.preventDefault();
    this.orbit.zoom(Math.exp(-e.deltaY * WHEEL_RATE));
    this.events.changed();
  };

  private readonly key = (e: KeyboardEvent): void => {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const turn = (x: number, y: number): void =>
      e.shiftKey
        ? this.orbit.pan(x * KEY_PX, y * KEY_PX)
        : this.orbit.rotate(x * KEY_RAD, y * KEY_RAD);
    const actions: Record<string, () => void> = {
      ArrowLeft: () => turn(-1, 0),
      ArrowRight: () => turn(1, 0),
      ArrowUp: () => turn(0, -1),
      ArrowDown: () => turn(0, 1),
      "+": () => this.orbit.zoom(1.25),
      "=": () => this.orbit.zoom(1.25),
      "-": () => this.orbit.zoom(0.8),
      Home: () => this.events.fit(),
      "0": () => this.events.fit(),
      ".": () => this.events.step(1),
      ",": () => this.events.step(-1),
    };
    const action = actions[e.key];
    if (!action) return;
    e.preventDefault();
    action();
    this.events.changed();
  };
}
