import type { INDICATIONS, REVISION_CAUSES } from './population-schema.js';

/** The truth about an invented patient, whatever a record holds of it. Angles in degrees, lengths in millimeters. */
export interface SyntheticTruth {
  readonly index: number;
  readonly person: Person;
  readonly operation: Operation;
  readonly comorbidity: Comorbidity;
  readonly spine: Spine;
  readonly femur: Femur;
  readonly plan: Plan;
  /** The replacement to be revised. */
  readonly inPlace?: InPlace;
  /** The replacement of the other hip. */
  readonly otherHip?: OtherHip;
}

export interface Person {
  readonly sex: 'female' | 'male';
  readonly age: number;
  readonly birthDate: string;
  readonly heightCm: number;
  readonly weightKg: number;
  readonly bodyMassIndex: number;
}

export type SyntheticSide = 'left' | 'right';
export type CroweType = 'I' | 'II-III' | 'IV';
export type Indication =
  | 'osteoarthritis'
  | 'dysplasia'
  | 'failed-fixation'
  | 'instability'
  | (typeof INDICATIONS)[number]
  | (typeof REVISION_CAUSES)[number];

export interface Operation {
  readonly kind: 'primary' | 'revision' | 'conversion';
  readonly side: SyntheticSide;
  /** Of a revision, its cause. */
  readonly indication: Indication;
  readonly croweType?: CroweType;
}

export type FusedLevels = 'one-or-two' | 'three-to-seven' | 'eight-or-more';

export interface Comorbidity {
  readonly fusedLevels?: FusedLevels;
  readonly isParkinson: boolean;
  readonly isDemented: boolean;
  readonly isMultipleSclerosis: boolean;
  readonly isCerebralPalsy: boolean;
  readonly isMuscularDystrophy: boolean;
  /** Paresis of the leg to be operated on. */
  readonly isParetic: boolean;
  readonly isStrokeWithoutDeficit: boolean;
  readonly isDepressed: boolean;
  readonly isEpileptic: boolean;
  readonly isAlcoholDependent: boolean;
  readonly isSpineDeformed: boolean;
  readonly isSpineAnkylosed: boolean;
  readonly isLumbarStenotic: boolean;
  readonly isLumbarDegenerated: boolean;
  readonly isPelvisIrradiated: boolean;
  readonly isHypermobile: boolean;
  readonly abductors: 'sound' | 'torn' | 'absent';
}

/** Measures by their code. */
export interface Spine {
  readonly 'pelvic-incidence': number;
  readonly 'spinopelvic-tilt-standing': number;
  readonly 'spinopelvic-tilt-relaxed-seated': number;
  readonly 'spinopelvic-tilt-flexed-seated': number;
  readonly 'sacral-slope-standing': number;
  readonly 'sacral-slope-relaxed-seated': number;
  readonly 'sacral-slope-flexed-seated': number;
  readonly 'lumbar-lordosis-standing': number;
  readonly 'lumbar-lordosis-flexed-seated': number;
  readonly 'app-tilt-supine': number;
  readonly 'app-tilt-standing': number;
  readonly 'app-tilt-relaxed-seated': number;
  readonly 'app-tilt-flexed-seated': number;
  /** Lordosis lost from standing to relaxed seated: no measure of the rulebook. */
  readonly lordosisLost: number;
}

/** Measures of a hip before any replacement, by their code. */
export interface Femur {
  readonly 'native-femoral-anteversion': number;
  readonly 'native-femoral-offset': number;
  readonly 'leg-length-discrepancy': number;
  readonly 'global-offset-difference': number;
  readonly 'native-flexion': number;
  readonly 'native-adduction': number;
  readonly 'native-internal-rotation': number;
  readonly 'aiis-prominence': 'I' | 'II' | 'III';
  readonly 'abductor-strength': number;
  /** Version a straight stem takes in this femur. */
  readonly stemVersion: number;
}

export type LinerType = 'neutral' | 'elevated-rim' | 'dual-mobility';

/** Planned measures by their code; those of a stem only where it is not retained. */
export interface Plan {
  readonly 'cup-inclination': number;
  readonly 'cup-anteversion': number;
  readonly 'cup-outer-diameter': number;
  readonly 'head-diameter': number;
  readonly 'liner-type': LinerType;
  readonly 'liner-elevation-angle'?: number;
  readonly 'liner-elevation-position'?: number;
  readonly 'mobile-liner-diameter'?: number;
  readonly 'bearing-couple': string;
  readonly 'skirted-head': boolean;
  readonly 'neck-diameter'?: number;
  readonly 'neck-shaft-angle'?: number;
  readonly 'stem-anteversion'?: number;
  readonly 'surgical-approach': Approach;
  readonly 'soft-tissue-repair'?: string;
  readonly 'leg-length-change': number;
  readonly 'femoral-offset-change': number;
  readonly 'hip-center-medialization': number;
  readonly 'component-retained'?: 'stem';
  /** Whether the angles restate what surgeons achieve rather than what they aim at. */
  readonly isAsAchieved: boolean;
  /** Whether the plan was drawn on a supine film. */
  readonly isOnSupineFilm: boolean;
}

export type Approach = 'posterior' | 'anterolateral' | 'direct-lateral' | 'direct-anterior';

/** Measures of the replacement in place, by their code. */
export interface InPlace {
  readonly 'cup-inclination': number;
  readonly 'cup-anteversion': number;
  readonly 'stem-anteversion': number;
  readonly 'head-diameter': number;
  readonly 'neck-diameter': number;
  readonly 'leg-length-discrepancy': number;
  readonly 'bearing-couple': string;
  readonly 'head-penetration': number;
  readonly 'head-penetration-rate': number;
  readonly 'dislocation-count': number;
  readonly 'dislocation-direction'?: 'posterior' | 'anterior' | 'superior';
  readonly yearsInPlace: number;
}

export interface OtherHip {
  readonly yearsInPlace: number;
  readonly 'cup-inclination': number;
  readonly 'cup-anteversion': number;
  readonly 'head-diameter': number;
}
