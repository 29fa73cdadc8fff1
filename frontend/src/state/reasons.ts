/** Where the reasons of a contour's numbers are found. */
export type Part = "length" | "start" | "x" | "y" | "tab" | "piece" | "time";

export const placeOf = (contour: string, what: Part): string =>
  ({
    length: `plan/contours/${contour}/length_mm`,
    start: `plan/start_holes/${contour}/diameter_mm`,
    x: `plan/start_holes/${contour}/x_mm`,
    y: `plan/start_holes/${contour}/y_mm`,
    tab: `plan/tabs/${contour}/width_mm`,
    piece: `plan/slugs/${contour}/mass_kg`,
    time: `${contour} time on the machine`,
  })[what];
