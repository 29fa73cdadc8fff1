/** The walls that lean in the colours of their deviations. */
import { BufferAttribute, BufferGeometry, Color, DoubleSide, Mesh, MeshBasicMaterial } from "three";
import { STEPS, stepOf } from "./deviations";
import type { Palette } from "./palette";
import type { WallOff } from "./walloff";

/**
 * All bands as one mesh, flat in their colours so that they are those of the scale.
 *
 * `limitsUm` are those of the walls at which the colours say that it is too much.
 */
export function paintedWalls(
  off: WallOff,
  limitsUm: number[],
  palette: Palette,
): Mesh<BufferGeometry, MeshBasicMaterial> {
  const colours = palette.deviations.map((text) => new Color(text));
  const outOfReach = new Color(palette.muted);
  const quads = off.first[off.bands]! - off.bands;
  const places = new Float32Array(18 * Math.max(quads, 0));
  const shades = new Float32Array(places.length);
  let at = 0;
  for (let b = 0; b < off.bands; b++) {
    const [low, high, z] = [off.lowerMm[b]!, off.upperMm[b]!, off.heightMm[b]!];
    const limit = limitsUm[off.wall[b]!] ?? 1;
    const end = (i: number, height: number): [number, number, number] => [
      off.x[i]! + off.asideX[i]! * (height - z),
      off.y[i]! + off.asideY[i]! * (height - z),
      height,
    ];
    for (let i = off.first[b]!; i + 1 < off.first[b + 1]!; i++) {
      const j = i + 1;
      places.set(
        [
          ...[...end(i, low), ...end(i, high), ...end(j, low)],
          ...[...end(j, low), ...end(i, high), ...end(j, high)],
        ],
        at,
      );
      // Of two ends the one that is farther off is shown.
      const worse = Math.abs(off.um[i]!) > Math.abs(off.um[j]!) ? i : j;
      const colour = off.isOutOfReach[worse]
        ? outOfReach
        : colours[stepOf(off.um[worse]!, limit) + STEPS]!;
      for (let k = 0; k < 6; k++) shades.set([colour.r, colour.g, colour.b], at + 3 * k);
      at += 18;
    }
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(places, 3));
  geometry.setAttribute("color", new BufferAttribute(shades, 3));
  const material = new MeshBasicMaterial({
    vertexColors: true,
    side: DoubleSide,
    polygonOffset: true,
    polygonOffsetFactor: 1,
    polygonOffsetUnits: 1,
  });
  return new Mesh(geometry, material);
}
