import { millimetres, type Degrees } from '../../src/base/units.js';
import { oscillationAngle } from '../../src/biomechanics/range/head-neck.js';

/** Oscillation angle of plain numbers: millimetres, center outside the opening plane positive. */
export function oscillation(head: number, neck: number, centerOffset = 0): Degrees {
  return oscillationAngle({
    head: millimetres(head),
    neck: millimetres(neck),
    centerOffset: millimetres(centerOffset),
  });
}

export interface DesignGrid {
  readonly headDiameterMm: readonly number[];
  readonly neckDiameterMm: readonly number[];
  readonly centreOutwardMm: readonly number[];
}

/** Every head with every neck and every place of the center, as published regressions take them. */
export function designsOf({ headDiameterMm, neckDiameterMm, centreOutwardMm }: DesignGrid): readonly {
  readonly head: number;
  readonly neck: number;
  readonly center: number;
  readonly oscillation: Degrees;
}[] {
  return headDiameterMm.flatMap((head) =>
    neckDiameterMm.flatMap((neck) =>
      centreOutwardMm.map((center) => ({ head, neck, center, oscillation: oscillation(head, neck, center) })),
    ),
  );
}
