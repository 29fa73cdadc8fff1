/** The zoomable drawing: a still layer of lines and, above it, a light one that is drawn anew at will. */
import { PickBox } from "./box";
import { Camera, type Box } from "./camera";
import { Sheet, type Layer } from "./layer";
import { Lines } from "./lines";
import { markAt } from "./marks";
import { drawOverlay, type Scene } from "./overlay";
import type { Palette } from "./palette";
import type { Geometry } from "./geometry";

export interface ViewEvents {
  /** A contour was pointed at; `isMore` keeps what is picked already. */
  select(contour: number, isMore: boolean): void;
  /** A box was pulled over these contours. */
  box(contours: number[], isMore: boolean): void;
  /** All contours are wanted. */
  all(): void;
  /** The drawing was drawn anew, perhaps at another place. */
  drawn(): void;
  hover(contour: number): void;
  cursor(x: number, y: number): void;
  step(by: number): void;
  /** A line that bounds nothing was pointed at. */
  piece(chain: number): void;
  /** The sign of a finding was pointed at. */
  mark(finding: number): void;
  /** A place was pointed at, with how near counts, mm. */
  place(x: number, y: number, reach: number): void;
}

const REACH_PX = 7;
const TOUCH_REACH_PX = 18;
const CLICK_PX = 5;
/** Share of the part within which a line is seen beside a place that is looked at. */
const NEAR_SHARE = 0.06;
/** Room around a place for the words that stand there. */
const WORDS_PX = 76;
const STILL_MS = 120;
const PAN_PX = 48;
const STEP_ASIDE_PX = 30;
/** Share of the size of the whole drawing without cards that fitting beside them leaves at least. */
const LEAST_KEPT = 0.5;
/** Keys that move the drawing. */
const MOVING = new Set(["ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown", "+", "=", "-"]);
const WHEEL_RATE = 0.0016;

type Spot = [number, number];

export class DrawingView {
  readonly camera = new Camera();
  readonly scene: Scene = {
    geometry: null,
    contours: [],
    hovered: -1,
    selected: -1,
    picked: [],
    unit: "mm",
    marks: [],
    mark: -1,
    wire: null,
    stretches: [],
    minute: -1,
    wireMm: 0.25,
  };
  private readonly lines = new Lines();
  private readonly sheets: Sheet[] = [];
  private readonly overlay = document.createElement("canvas");
  private readonly pointers = new Map<number, Spot>();
  private readonly observer: ResizeObserver;
  private readonly box: PickBox;
  /** Pulling draws a box instead of moving the drawing: the way for fingers. */
  isBoxing = false;
  private moved = 0;
  private frame = 0;
  private isStale = true;
  private isMoving = false;
  private hasFitted = false;
  /** Nobody has moved the drawing since it was fitted. */
  private isFitted = false;
  private still = 0;
  /** The contour that was last made room for. */
  private roomFor = -1;

  constructor(
    private readonly host: HTMLElement,
    private palette: Palette,
    private readonly events: ViewEvents,
    label: string,
  ) {
    const o = this.overlay;
    o.tabIndex = 0;
    o.setAttribute("role", "application");
    o.setAttribute("aria-label", label);
    for (const canvas of [this.lines.canvas, o]) host.append(canvas);
    this.box = new PickBox(host);
    o.addEventListener("pointerdown", this.down);
    o.addEventListener("pointermove", this.move);
    o.addEventListener("pointerup", this.up);
    o.addEventListener("pointercancel", this.cancel);
    o.addEventListener("pointerleave", this.leave);
    o.addEventListener("wheel", this.wheel, { passive: false });
    o.addEventListener("keydown", this.key);
    o.addEventListener("dblclick", () => this.fit());
    this.observer = new ResizeObserver(() => this.resize());
    this.observer.observe(host);
    this.resize();
  }

  setGeometry(geometry: Geometry | null): void {
    this.scene.geometry = geometry;
    this.hasFitted = false;
    this.fit();
  }

  setPalette(palette: Palette): void {
    this.palette = palette;
    this.refresh(true);
  }

  /** Change what is shown; `lines` if the still layer is concerned. */
  show(change: Partial<Scene>, lines = false): void {
    Object.assign(this.scene, change);
    this.refresh(lines);
  }

  /** Lay a picture over the lines and under the marks. */
  add(layer: Layer): void {
    const sheet = new Sheet(layer);
    this.overlay.before(sheet.canvas);
    this.sheets.push(sheet);
    this.resize();
  }

  /** Draw one layer anew. */
  renew(layer: Layer): void {
    for (const sheet of this.sheets) if (sheet.layer === layer) sheet.isStale = true;
    this.refresh(false);
  }

  fit(): void {
    const g = this.scene.geometry;
    if (g && this.camera.width > 1) {
      const { box, originX: x, originY: y } = g;
      const all = { x0: box.x0 + x, y0: box.y0 + y, x1: box.x1 + x, y1: box.y1 + y };
      // Starts lie beside an outline, and their marks are part of what is seen.
      for (const { start } of this.scene.contours) {
        if (!start) continue;
        const [sx, sy, diameter] = start;
        all.x0 = Math.min(all.x0, sx - diameter / 2);
        all.y0 = Math.min(all.y0, sy - diameter / 2);
        all.x1 = Math.max(all.x1, sx + diameter / 2);
        all.y1 = Math.max(all.y1, sy + diameter / 2);
      }
      this.camera.fit(all);
      this.hasFitted = this.isFitted = true;
    }
    this.refresh(true);
  }

  /** Keep clear of cards over the drawing; `chain` is the contour that one of them speaks of. */
  makeRoom(cards: Box[], chain: number): void {
    const isSame = JSON.stringify(cards) === JSON.stringify(this.camera.cards);
    const isOther = chain !== this.roomFor;
    if (isSame && !isOther) return;
    this.camera.cards = cards;
    this.roomFor = chain;
    if (this.isFitted) this.refit();
    else this.uncover(chain);
  }

  /** Fit anew beside cards, unless they leave what is picked a slit: it then stays as large as it was. */
  private refit(): void {
    const { scale, cx, cy, cards } = this.camera;
    this.camera.cards = [];
    this.fit();
    const whole = this.camera.scale;
    this.camera.cards = cards;
    this.fit();
    if (this.roomFor < 0 || this.camera.scale >= LEAST_KEPT * whole || scale > whole * 1.001)
      return;
    Object.assign(this.camera, { scale, cx, cy });
    this.uncover(this.roomFor);
  }

  /** Bring a contour that lies under a card into what is clear. */
  private uncover(chain: number): void {
    const g = this.scene.geometry;
    if (!g || chain < 0) return;
    const box = g.boxOf(chain);
    const [x0, y1] = this.camera.toScreen(box.x0 + g.originX, box.y0 + g.originY);
    const [x1, y0] = this.camera.toScreen(box.x1 + g.originX, box.y1 + g.originY);
    const { width, height, cards } = this.camera;
    // What is chosen in a list may lie out of sight, and what fills the view shows beside the cards.
    if (x1 < 0 || y1 < 0 || x0 > width || y0 > height) return;
    if (x1 - x0 > width / 2 || y1 - y0 > height / 2) return;
    if (!cards.some((c) => c.x0 < x1 && x0 < c.x1 && c.y0 < y1 && y0 < c.y1)) return;
    const by = STEP_ASIDE_PX;
    this.camera.uncover({ x0: x0 - by, y0: y0 - by, x1: x1 + by, y1: y1 + by });
    this.refresh(true);
  }

  zoom(factor: number): void {
    this.isFitted = false;
    this.camera.zoom(factor);
    this.refresh(true);
  }

  /** Bring a place into the middle of what is clear, near enough to see it. */
  goTo(x: number, y: number): void {
    const g = this.scene.geometry;
    if (!g) return;
    const size = Math.max(g.box.x1 - g.box.x0, g.box.y1 - g.box.y0, 1e-3);
    this.isFitted = false;
    const near = (Math.min(this.camera.width, this.camera.height) * 3) / size;
    this.camera.scale = Math.max(this.camera.scale, near);
    this.camera.centre(x, y);
    this.refresh(true);
  }

  /** Show a place with what is drawn near it; all of the part where nothing is: texts are not drawn. */
  goToDrawn(x: number, y: number): void {
    const g = this.scene.geometry;
    if (!g) return;
    const size = Math.max(g.box.x1 - g.box.x0, g.box.y1 - g.box.y0, 1e-3);
    if (g.pick(x - g.originX, y - g.originY, size * NEAR_SHARE) >= 0) this.goTo(x, y);
    else this.fitWith(x, y);
  }

  /** Show all of the drawing and a place that may lie beside it, with room for words there. */
  fitWith(x: number, y: number): void {
    const g = this.scene.geometry;
    if (!g) return;
    this.isFitted = false;
    this.camera.fit(
      {
        x0: Math.min(g.box.x0 + g.originX, x),
        y0: Math.min(g.box.y0 + g.originY, y),
        x1: Math.max(g.box.x1 + g.originX, x),
        y1: Math.max(g.box.y1 + g.originY, y),
      },
      WORDS_PX,
    );
    this.refresh(true);
  }

  dispose(): void {
    cancelAnimationFrame(this.frame);
    clearTimeout(this.still);
    this.observer.disconnect();
    for (const sheet of this.sheets) sheet.dispose();
    this.box.dispose();
    this.lines.canvas.remove();
    this.overlay.remove();
  }

  /** Draw on the next frame. */
  refresh(lines: boolean): void {
    this.isStale ||= lines;
    this.frame ||= requestAnimationFrame(() => {
      this.frame = 0;
      for (const sheet of this.sheets) {
        sheet.isStale ||= this.isStale;
        const wait = sheet.bring(this.camera, this.palette, this.isMoving);
        if (wait > 0) window.setTimeout(() => this.refresh(false), wait);
      }
      if (this.isStale) this.drawLines();
      drawOverlay(this.overlay.getContext("2d")!, this.camera, this.palette, this.scene);
      this.events.drawn();
    });
  }

  private drawLines(): void {
    this.isStale = false;
    const { geometry, contours } = this.scene;
    const isCut = (chain: number): boolean => contours[chain]?.is_cut ?? true;
    // What a person said is not to be cut is no fault.
    const isLeft = (chain: number): boolean =>
      !isCut(chain) && (contours[chain]?.use ?? null) !== null && !isWall(contours[chain]?.use);
    this.lines.draw(geometry, this.camera, this.palette, isCut, isLeft, this.isMoving);
  }

  private changed(): void {
    this.isMoving = true;
    this.isFitted = false;
    clearTimeout(this.still);
    this.still = window.setTimeout(() => {
      this.isMoving = false;
      this.refresh(true);
    }, STILL_MS);
    this.refresh(true);
  }

  private resize(): void {
    const { width, height } = this.host.getBoundingClientRect();
    this.camera.width = Math.max(1, width);
    this.camera.height = Math.max(1, height);
    const sheets = this.sheets.map((sheet) => sheet.canvas);
    for (const canvas of [this.lines.canvas, ...sheets, this.overlay]) {
      canvas.width = Math.round(width * devicePixelRatio);
      canvas.height = Math.round(height * devicePixelRatio);
      Object.assign(canvas.style, {
        position: "absolute",
        inset: "0",
        width: "100%",
        height: "100%",
        touchAction: "none",
      });
    }
    if (!this.hasFitted) this.fit();
    else if (this.isFitted) this.refit();
    else this.refresh(true);
  }

  private at(e: PointerEvent | WheelEvent): Spot {
    const box = this.overlay.getBoundingClientRect();
    return [e.clientX - box.left, e.clientY - box.top];
  }

  private pick([sx, sy]: Spot, reach: number): number {
    const g = this.scene.geometry;
    if (!g) return -1;
    const [x, y] = this.camera.toWorld(sx, sy);
    const found = g.pick(x - g.originX, y - g.originY, reach / this.camera.scale);
    return found >= 0 && g.isPickable(found) ? found : -1;
  }

  private readonly down = (e: PointerEvent): void => {
    this.overlay.setPointerCapture(e.pointerId);
    if (this.pointers.size === 0) this.moved = 0;
    this.pointers.set(e.pointerId, this.at(e));
    if (this.pointers.size === 1 && (e.shiftKey || this.isBoxing)) this.box.begin(this.at(e));
    else if (this.box.isOpen) this.box.end();
  };

  private readonly move = (e: PointerEvent): void => {
    const now = this.at(e);
    this.events.cursor(...this.camera.toWorld(...now));
    const before = this.pointers.get(e.pointerId);
    if (before) this.drag(e.pointerId, before, now);
    else this.hover(this.pick(now, REACH_PX));
  };

  private drag(id: number, before: Spot, now: Spot): void {
    const other = [...this.pointers].find(([key]) => key !== id)?.[1];
    this.pointers.set(id, now);
    this.moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
    if (this.moved <= CLICK_PX) return;
    if (this.box.isOpen) {
      this.box.pull(now);
      return;
    }
    if (other) {
      const spread = (p: Spot): number => Math.hypot(p[0] - other[0], p[1] - other[1]);
      const factor = spread(now) / Math.max(1, spread(before));
      this.camera.zoom(factor, (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
      this.camera.pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    } else this.camera.pan(now[0] - before[0], now[1] - before[1]);
    this.changed();
  }

  private hover(contour: number): void {
    if (contour === this.scene.hovered) return;
    this.scene.hovered = contour;
    this.overlay.style.cursor = contour < 0 ? "grab" : "pointer";
    this.events.hover(contour);
    this.refresh(false);
  }

  private readonly up = (e: PointerEvent): void => {
    const isLast = this.pointers.delete(e.pointerId) && this.pointers.size === 0;
    const isMore = e.shiftKey || e.ctrlKey || e.metaKey;
    if (this.box.isOpen) {
      const b = this.box.end();
      if (this.moved > CLICK_PX) {
        this.events.box(this.boxed(b.x0, b.y0, b.x1, b.y1), isMore);
        return;
      }
    }
    if (!isLast || this.moved > CLICK_PX) return;
    const reach = e.pointerType === "touch" ? TOUCH_REACH_PX : REACH_PX;
    const at = this.at(e);
    const mark = isMore || this.isBoxing ? -1 : markAt(this.camera, this.scene, at, reach);
    if (mark >= 0) {
      this.events.mark(mark);
      return;
    }
    this.events.select(this.pick(at, reach), isMore || this.isBoxing);
    const within = reach / this.camera.scale;
    const line = this.scene.geometry?.lineAt(...this.camera.toWorld(...at), within) ?? -1;
    if (line >= 0) this.events.piece(line);
    if (!isMore && !this.isBoxing)
      this.events.place(...this.camera.toWorld(...at), reach / this.camera.scale);
  };

  private boxed(sx0: number, sy0: number, sx1: number, sy1: number): number[] {
    const g = this.scene.geometry;
    if (!g) return [];
    const [x0, y1] = this.camera.toWorld(sx0, sy0);
    const [x1, y0] = this.camera.toWorld(sx1, sy1);
    return g.inside(x0 - g.originX, y0 - g.originY, x1 - g.originX, y1 - g.originY);
  }

  private readonly cancel = (e: PointerEvent): void => {
    this.pointers.delete(e.pointerId);
    if (this.box.isOpen) this.box.end();
  };

  private readonly leave = (): void => {
    this.hover(-1);
    this.events.cursor(NaN, NaN);
  };

  private readonly wheel = (e: WheelEvent): void => {
    e.preventDefault();
    this.camera.zoom(Math.exp(-e.deltaY * WHEEL_RATE), ...this.at(e));
    this.changed();
  };

  private readonly key = (e: KeyboardEvent): void => {
    if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "a") {
      e.preventDefault();
      this.events.all();
    }
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const actions: Record<string, () => void> = {
      ArrowLeft: () => this.camera.pan(PAN_PX, 0),
      ArrowRight: () => this.camera.pan(-PAN_PX, 0),
      ArrowUp: () => this.camera.pan(0, PAN_PX),
      ArrowDown: () => this.camera.pan(0, -PAN_PX),
      "+": () => this.camera.zoom(1.25),
      "=": () => this.camera.zoom(1.25),
      "-": () => this.camera.zoom(0.8),
      "0": () => this.fit(),
      ".": () => this.events.step(1),
      ",": () => this.events.step(-1),
      l: () => this.events.place(...this.camera.middle(), REACH_PX / this.camera.scale),
      Escape: () => this.events.select(-1, false),
    };
    const action = actions[e.key];
    if (!action) return;
    e.preventDefault();
    action();
    if (MOVING.has(e.key)) this.changed();
  };
}

const isWall = (use: string | null | undefined): boolean => use === "opening" || use === "outline";
