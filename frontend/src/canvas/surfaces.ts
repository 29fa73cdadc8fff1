/** The ruled surfaces and the kerf drawn with WebGL; what is written lies over it. */
import {
  AmbientLight,
  BufferAttribute,
  BufferGeometry,
  Color,
  CylinderGeometry,
  DirectionalLight,
  DoubleSide,
  FrontSide,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshLambertMaterial,
  OrthographicCamera,
  Quaternion,
  Raycaster,
  Scene,
  Vector2,
  Vector3,
  WebGLRenderer,
} from "three";
import type { Orbit } from "./orbit";
import { paintedWalls } from "./paintedwalls";
import type { Palette } from "./palette";
import { boxOf, type Space, type Stand } from "./space";
import type { WallOff } from "./walloff";

/** Rulings drawn on a leaning wall at most, besides those at its corners. */
const MOST_RULINGS = 60;
const CORNER_RAD = 0.25;
/** Guides and what is moved aside lie within this beyond the part. */
const BESIDE_MM = 1000;
const UP = new Vector3(0, 0, 1);

export interface WallLook {
  /** Looked at from within, so that its near side hides nothing. */
  isOutside: boolean;
  isLeaning: boolean;
}

export class Surfaces {
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera = new OrthographicCamera();
  private readonly meshes: Mesh<BufferGeometry, MeshLambertMaterial>[] = [];
  private readonly lines: LineSegments<BufferGeometry, LineBasicMaterial>[] = [];
  private readonly lamp = new DirectionalLight(0xffffff, 1.7);
  private readonly kerf: Mesh<CylinderGeometry, MeshLambertMaterial>;
  private readonly wire: LineSegments<BufferGeometry, LineBasicMaterial>;
  private readonly ray = new Raycaster();
  private painted: ReturnType<typeof paintedWalls> | null = null;
  /** How deep the view reaches, mm: as little as holds all, for the depths to be told apart. */
  private reach = 1;

  /** Throws where the browser draws no WebGL. */
  constructor(readonly canvas: HTMLCanvasElement) {
    const context = canvas.getContext("webgl2", { antialias: true, alpha: true });
    if (!context) throw new Error("no WebGL");
    this.renderer = new WebGLRenderer({ canvas, context, antialias: true, alpha: true });
    this.kerf = new Mesh(
      new CylinderGeometry(1, 1, 1, 20, 1, true),
      new MeshLambertMaterial({ transparent: true, opacity: 0.55, side: DoubleSide }),
    );
    this.wire = new LineSegments(new BufferGeometry(), new LineBasicMaterial());
    this.wire.geometry.setAttribute("position", new BufferAttribute(new Float32Array(6), 3));
    this.wire.frustumCulled = false;
    this.scene.add(new AmbientLight(0xffffff, 1.6), this.lamp, this.kerf, this.wire);
    this.kerf.visible = this.wire.visible = false;
  }

  /** Take the walls of a job. */
  take(space: Space, looks: WallLook[]): void {
    this.drop();
    const box = boxOf(space);
    this.reach = 4 * Math.hypot(box.x1 - box.x0, box.y1 - box.y0, box.z1 - box.z0) + BESIDE_MM;
    for (let w = 0; w < space.walls; w++) {
      const look = looks[w] ?? { isOutside: false, isLeaning: true };
      const material = new MeshLambertMaterial({
        side: look.isOutside ? FrontSide : DoubleSide,
        polygonOffset: true,
        polygonOffsetFactor: 1,
        polygonOffsetUnits: 1,
      });
      const mesh = new Mesh(wallGeometry(space, w), material);
      mesh.userData["wall"] = w;
      const edges = new LineSegments(
        edgeGeometry(space, w, look.isLeaning),
        new LineBasicMaterial(),
      );
      this.meshes.push(mesh);
      this.lines.push(edges);
      this.scene.add(mesh, edges);
    }
  }

  paint(palette: Palette, hovered: number[], chosen: number[]): void {
    this.meshes.forEach((mesh, w) => {
      const isOn = hovered.includes(w) || chosen.includes(w);
      mesh.material.color = new Color(isOn ? palette.attendedPaper : palette.metal);
      this.lines[w]!.material.color = new Color(isOn ? palette.accent : palette.muted);
    });
    this.kerf.material.color = new Color(palette.accent);
    this.wire.material.color = new Color(palette.ink);
  }

  /** Show walls in the colours of their deviations, or as metal again. */
  colour(off: WallOff | null, limitsUm: number[], palette: Palette): void {
    this.bare();
    this.meshes.forEach((mesh) => (mesh.visible = true));
    if (!off) return;
    this.painted = paintedWalls(off, limitsUm, palette);
    this.scene.add(this.painted);
    // They lie in one place: only one of the two is drawn.
    for (const wall of off.wall) this.meshes[wall]!.visible = false;
  }

  /** Show the wire between the guides and its kerf in the work. */
  stand(stand: Stand | null, kerfMm: number, heightMm: number, guides: [number, number]): void {
    this.kerf.visible = this.wire.visible = stand !== null;
    if (!stand) return;
    const at = (z: number): Vector3 =>
      new Vector3(stand.x + stand.leanX * z, stand.y + stand.leanY * z, z);
    const places = this.wire.geometry.getAttribute("position") as BufferAttribute;
    guides.forEach((z, i) => places.setXYZ(i, ...at(z).toArray()));
    places.needsUpdate = true;
    const [low, high] = [at(0), at(heightMm)];
    const way = high.clone().sub(low);
    this.kerf.position.copy(low.add(high).multiplyScalar(0.5));
    this.kerf.scale.set(kerfMm / 2, way.length(), kerfMm / 2);
    this.kerf.quaternion.copy(
      new Quaternion().setFromUnitVectors(new Vector3(0, 1, 0), way.normalize()),
    );
  }

  draw(orbit: Orbit, ratio: number): void {
    this.aim(orbit);
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(orbit.width, orbit.height, false);
    this.renderer.render(this.scene, this.camera);
  }

  /** Wall under a place of the screen; −1 for none. */
  pick(orbit: Orbit, x: number, y: number): number {
    this.aim(orbit);
    this.camera.updateMatrixWorld();
    const at = new Vector2((2 * x) / orbit.width - 1, 1 - (2 * y) / orbit.height);
    this.ray.setFromCamera(at, this.camera);
    const hit = this.ray.intersectObjects(this.meshes, false)[0];
    return hit ? (hit.object.userData["wall"] as number) : -1;
  }

  /** Give back all memory of the graphics card. */
  dispose(): void {
    this.drop();
    this.kerf.geometry.dispose();
    this.kerf.material.dispose();
    this.wire.geometry.dispose();
    this.wire.material.dispose();
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }

  private bare(): void {
    if (!this.painted) return;
    this.scene.remove(this.painted);
    this.painted.geometry.dispose();
    this.painted.material.dispose();
    this.painted = null;
  }

  private drop(): void {
    this.bare();
    for (const one of [...this.meshes, ...this.lines]) {
      this.scene.remove(one);
      one.geometry.dispose();
      one.material.dispose();
    }
    this.meshes.length = this.lines.length = 0;
  }

  private aim(orbit: Orbit): void {
    const eye = new Vector3(...orbit.axes()[2]);
    const middle = new Vector3(orbit.cx, orbit.cy, orbit.cz);
    const { camera } = this;
    camera.left = -(camera.right = orbit.width / 2 / orbit.scale);
    camera.bottom = -(camera.top = orbit.height / 2 / orbit.scale);
    camera.near = -this.reach;
    camera.far = this.reach;
    camera.up.copy(UP);
    camera.position.copy(middle).add(eye);
    camera.lookAt(middle);
    camera.updateProjectionMatrix();
    this.lamp.position.copy(eye).add(new Vector3(0.3, -0.2, 0.5));
  }
}

function wallGeometry(space: Space, w: number): BufferGeometry {
  const [from, to] = [space.first[w]!, space.first[w + 1]!];
  const [low, high] = [space.lowerMm[w]!, space.upperMm[w]!];
  const quads = Math.max(0, to - from - 1);
  const places = new Float32Array(18 * quads);
  for (let i = 0; i < quads; i++) {
    const [a, b] = [from + i, from + i + 1];
    const lowA = [space.x0[a]!, space.y0[a]!, low];
    const lowB = [space.x0[b]!, space.y0[b]!, low];
    const highA = [space.x1[a]!, space.y1[a]!, high];
    const highB = [space.x1[b]!, space.y1[b]!, high];
    // Material lies left of travel: this turn looks into it.
    places.set([...lowA, ...highA, ...lowB, ...lowB, ...highA, ...highB], 18 * i);
  }
  const found = new BufferGeometry();
  found.setAttribute("position", new BufferAttribute(places, 3));
  found.computeVertexNormals();
  return found;
}

/** Both ends of a wall, its corners and, if it leans, some of its rulings. */
function edgeGeometry(space: Space, w: number, isLeaning: boolean): BufferGeometry {
  const [from, to] = [space.first[w]!, space.first[w + 1]!];
  const [low, high] = [space.lowerMm[w]!, space.upperMm[w]!];
  const places: number[] = [];
  const step = Math.max(1, Math.ceil((to - from) / MOST_RULINGS));
  for (let i = from; i < to; i++) {
    const isCorner =
      turns(space.x0, space.y0, i, from, to) || turns(space.x1, space.y1, i, from, to);
    if (isCorner || (isLeaning && (i - from) % step === 0))
      places.push(space.x0[i]!, space.y0[i]!, low, space.x1[i]!, space.y1[i]!, high);
    if (i + 1 === to) break;
    places.push(space.x0[i]!, space.y0[i]!, low, space.x0[i + 1]!, space.y0[i + 1]!, low);
    places.push(space.x1[i]!, space.y1[i]!, high, space.x1[i + 1]!, space.y1[i + 1]!, high);
  }
  const found = new BufferGeometry();
  found.setAttribute("position", new BufferAttribute(new Float32Array(places), 3));
  return found;
}

/** Whether an end of a wall has a corner at a ruling. */
function turns(x: Float32Array, y: Float32Array, i: number, from: number, to: number): boolean {
  // The last ruling is the first again.
  const before = i > from ? i - 1 : to - 2;
  const after = i + 1 < to ? i + 1 : from + 1;
  const [ax, ay] = [x[i]! - x[before]!, y[i]! - y[before]!];
  const [bx, by] = [x[after]! - x[i]!, y[after]! - y[i]!];
  return Math.abs(Math.atan2(ax * by - ay * bx, ax * bx + ay * by)) > CORNER_RAD;
}
