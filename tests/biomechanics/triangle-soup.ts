import { BufferAttribute, BufferGeometry } from 'three';

export type Corner = readonly [x: number, y: number, z: number];

/** Below this area, in square millimetres, a triangle is a line and is left out. */
const NO_AREA = 1e-12;

/** Collects triangles in double precision. */
export class TriangleSoup {
  private readonly positions: number[] = [];

  triangle(a: Corner, b: Corner, c: Corner): void {
    if (areaOf(a, b, c) > NO_AREA) this.positions.push(...a, ...b, ...c);
  }

  quad(a: Corner, b: Corner, c: Corner, d: Corner): void {
    this.triangle(a, b, c);
    this.triangle(a, c, d);
  }

  geometry(): BufferGeometry {
    const positions = new BufferAttribute(new Float64Array(this.positions), 3);
    return new BufferGeometry().setAttribute('position', positions);
  }
}

function areaOf(a: Corner, b: Corner, c: Corner): number {
  const [ux, uy, uz] = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
  const [vx, vy, vz] = [c[0] - a[0], c[1] - a[1], c[2] - a[2]];
  return Math.hypot(uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx) / 2;
}

/** Values from one to another, both included, no further apart than a step. */
export function spread(from: number, to: number, step: number): readonly number[] {
  const count = Math.max(1, Math.ceil(Math.abs(to - from) / step - 1e-9));
  return Array.from({ length: count + 1 }, (_, index) => from + ((to - from) * index) / count);
}
