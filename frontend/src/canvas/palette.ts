/** Colours and dashes of the canvases, taken from the style sheet so that themes agree. */
export interface Palette {
  paper: string;
  ink: string;
  muted: string;
  metal: string;
  rule: string;
  accent: string;
  attended: string;
  attendedPaper: string;
  alone: string;
  refusal: string;
  warning: string;
  passes: string[];
  /** Where metal was taken away. */
  kerf: string;
  /** From cut too deep over as drawn to left standing. */
  deviations: string[];
}

export function readPalette(): Palette {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  return {
    paper: of("paper"),
    ink: of("ink"),
    muted: of("muted"),
    metal: of("metal"),
    rule: of("rule"),
    accent: of("accent"),
    attended: of("attended"),
    attendedPaper: of("attended-paper"),
    alone: of("alone"),
    refusal: of("refusal"),
    warning: of("warning"),
    passes: [of("pass-1"), of("pass-2"), of("pass-3"), of("pass-4")],
    kerf: of("kerf"),
    deviations: [0, 1, 2, 3, 4, 5, 6].map((step) => of(`off-${step}`)),
  };
}

/** Dash of a pass: the rough one is solid, each skim has its own rhythm. */
const DASHES: number[][] = [[], [7, 3], [2, 3], [9, 3, 2, 3]];

export const dashOf = (pass: number): number[] => DASHES[Math.min(pass, DASHES.length) - 1] ?? [];
export const inkOf = (palette: Palette, pass: number): string =>
  palette.passes[Math.min(pass, palette.passes.length) - 1] ?? palette.ink;

export const FONT = 'ui-sans-serif, system-ui, "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif';
