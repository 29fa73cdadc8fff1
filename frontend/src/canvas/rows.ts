/** Corners of a closed contour, x, y and bulge to the next, as the data of an SVG path. */
export type Row = readonly number[];

/** Return a path; a bulge is the tangent of a quarter of the arc's angle, above 0 to the left. */
export function pathOf(rows: readonly Row[]): string {
  const [first, ...rest] = rows;
  if (!first) return "";
  let data = `M${first[0]} ${first[1]}`;
  let [x, y, bulge] = [first[0]!, first[1]!, first[2]!];
  for (const to of [...rest, first]) {
    const [u, v] = [to[0]!, to[1]!];
    data += bulge ? arc(x, y, u, v, bulge) : `L${u} ${v}`;
    [x, y, bulge] = [u, v, to[2]!];
  }
  return `${data}Z`;
}

function arc(x: number, y: number, u: number, v: number, bulge: number): string {
  const chord = Math.hypot(u - x, v - y);
  const radius = (chord * (1 + bulge * bulge)) / (4 * Math.abs(bulge));
  return `A${radius} ${radius} 0 ${Math.abs(bulge) > 1 ? 1 : 0} ${bulge > 0 ? 1 : 0} ${u} ${v}`;
}

/** Return the box of contours: x, y, width, height. */
export function boxOf(all: readonly (readonly Row[])[]): [number, number, number, number] {
  const xs = all.flatMap((rows) => rows.map((row) => row[0]!));
  const ys = all.flatMap((rows) => rows.map((row) => row[1]!));
  const [x, y] = [Math.min(...xs), Math.min(...ys)];
  return [x, y, Math.max(...xs) - x, Math.max(...ys) - y];
}
