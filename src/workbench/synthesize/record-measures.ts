import type { MeasureOptions, RecordWriter } from './record-writer.js';
import { daysBefore } from './sampling.js';
import type { Sampling } from './sampling.js';
import type { SyntheticSide, SyntheticTruth } from './truth.js';

const DAYS_SINCE_FILMS = 43;
const DAYS_SINCE_PLAN = 22;
/** Shorter than any replacement here has been in place. */
const DAYS_SINCE_OLD_FILMS = 150;

const SPINE = [
  'pelvic-incidence',
  'spinopelvic-tilt-standing',
  'spinopelvic-tilt-relaxed-seated',
  'spinopelvic-tilt-flexed-seated',
  'sacral-slope-standing',
  'sacral-slope-relaxed-seated',
  'sacral-slope-flexed-seated',
  'lumbar-lordosis-standing',
  'lumbar-lordosis-flexed-seated',
  'app-tilt-supine',
  'app-tilt-standing',
  'app-tilt-relaxed-seated',
  'app-tilt-flexed-seated',
] as const;

const EXAMINATION = [
  'native-flexion',
  'native-adduction',
  'native-internal-rotation',
  'aiis-prominence',
] as const;

const PLANNED = [
  'cup-inclination',
  'cup-anteversion',
  'cup-outer-diameter',
  'head-diameter',
  'liner-type',
  'liner-elevation-angle',
  'liner-elevation-position',
  'mobile-liner-diameter',
  'bearing-couple',
  'skirted-head',
  'neck-diameter',
  'neck-shaft-angle',
  'stem-anteversion',
  'surgical-approach',
  'soft-tissue-repair',
  'leg-length-change',
  'femoral-offset-change',
  'hip-center-medialization',
  'component-retained',
] as const;

const IN_PLACE = [
  'cup-inclination',
  'cup-anteversion',
  'stem-anteversion',
  'head-diameter',
  'neck-diameter',
  'leg-length-discrepancy',
  'bearing-couple',
  'head-penetration',
  'head-penetration-rate',
  'dislocation-count',
  'dislocation-direction',
] as const;

type Measured = Readonly<Record<string, number | string | boolean | undefined>>;

/** The measures of one patient, group by group. */
class MeasureWriter {
  constructor(
    private readonly writer: RecordWriter,
    private readonly sampling: Sampling,
    private readonly truth: SyntheticTruth,
  ) {}

  get #day(): string {
    return daysBefore(this.sampling.on, DAYS_SINCE_FILMS);
  }

  get #side(): SyntheticSide {
    return this.truth.operation.side;
  }

  spine(): void {
    this.#write(SPINE, this.truth.spine, { stage: 'native', on: this.#day });
  }

  /** Version on CT: of the femur, or of the implants in place. */
  version(): void {
    const { femur, inPlace } = this.truth;
    if (inPlace)
      this.#write(['cup-inclination', 'cup-anteversion', 'stem-anteversion'], inPlace, this.#post());
    else this.#write(['native-femoral-anteversion'], femur, this.#native());
  }

  lengthAndOffset(): void {
    const { femur, inPlace } = this.truth;
    if (inPlace) this.#write(['leg-length-discrepancy'], inPlace, this.#post());
    else
      this.#write(
        ['leg-length-discrepancy', 'global-offset-difference', 'native-femoral-offset'],
        femur,
        this.#native(),
      );
  }

  template(): void {
    this.#write(['cup-outer-diameter', 'head-diameter'], this.truth.plan, this.#planned());
  }

  muscles(): void {
    const { femur, inPlace } = this.truth;
    const options = inPlace ? this.#post() : this.#native();
    this.#write(['abductor-strength'], femur, options);
    this.writer.measure('trendelenburg-sign', femur['abductor-strength'] <= WEAK_GRADE, options);
  }

  examination(): void {
    if (!this.truth.inPlace) this.#write(EXAMINATION, this.truth.femur, this.#native());
  }

  plan(): void {
    this.#write(PLANNED, this.truth.plan, this.#planned());
  }

  inPlace(): void {
    if (this.truth.inPlace) this.#write(IN_PLACE, this.truth.inPlace, this.#post());
  }

  otherHip(): void {
    const { otherHip } = this.truth;
    const side = this.#side === 'left' ? 'right' : 'left';
    const on = daysBefore(this.sampling.on, DAYS_SINCE_OLD_FILMS);
    if (otherHip)
      this.#write(['cup-inclination', 'cup-anteversion', 'head-diameter'], otherHip, {
        stage: 'postoperative',
        on,
        side,
      });
  }

  /** A plan of an impossible cup that was taken back. */
  withdrawn(): void {
    this.writer.measure('cup-inclination', WITHDRAWN_INCLINATION, { ...this.#planned(), isWithdrawn: true });
  }

  #native(): MeasureOptions {
    return { stage: 'native', on: this.#day, side: this.#side };
  }

  #post(): MeasureOptions {
    return { stage: 'postoperative', on: this.#day, side: this.#side };
  }

  #planned(): MeasureOptions {
    return { stage: 'planned', on: daysBefore(this.sampling.on, DAYS_SINCE_PLAN), side: this.#side };
  }

  #write<Name extends string>(
    names: readonly Name[],
    values: { readonly [name in Name]?: number | string | boolean | undefined },
    options: MeasureOptions,
  ): void {
    const measured: Measured = values;
    for (const name of names) {
      const value = measured[name];
      if (value === undefined) continue;
      const components = componentsOf(name, options.stage, this.truth);
      this.writer.measure(name, value, { ...options, ...(components && { components }) });
    }
  }
}

const WEAK_GRADE = 3;
const WITHDRAWN_INCLINATION = 85;

/** How a value is to be read: versions on CT against the condyles, a plan against the film it was drawn on. */
function componentsOf(
  measure: string,
  stage: MeasureOptions['stage'],
  { plan }: SyntheticTruth,
): Readonly<Record<string, string>> | undefined {
  const isCupAngle = measure === 'cup-inclination' || measure === 'cup-anteversion';
  const isVersion = measure === 'stem-anteversion' || measure === 'native-femoral-anteversion';
  if (stage === 'planned') {
    if (isCupAngle && plan.isOnSupineFilm) return { 'reference-plane': 'supine-film' };
    return isVersion ? { 'version-reference': 'posterior-condylar' } : undefined;
  }
  if (isVersion) return { method: 'ct', 'version-reference': 'posterior-condylar' };
  return isCupAngle ? { 'angle-definition': 'radiographic', method: 'ct' } : undefined;
}

/** Everything measured and planned. */
export function writeAllMeasures(writer: RecordWriter, sampling: Sampling, truth: SyntheticTruth): void {
  const { draws, population } = sampling;
  const measures = new MeasureWriter(writer, sampling, truth);
  measures.spine();
  if (truth.inPlace) measures.inPlace();
  else {
    measures.version();
    measures.lengthAndOffset();
    measures.examination();
  }
  measures.muscles();
  measures.plan();
  if (draws.isChosen('record.other-measured', population.record.otherHipMeasured.value)) measures.otherHip();
  if (draws.isChosen('record.withdrawn-measure', population.record.withdrawnMeasure.value))
    measures.withdrawn();
}

const GROUPS = ['spine', 'version', 'lengthAndOffset', 'template', 'muscles'] as const;

/** What little is measured before booking: nothing for most, some groups of measures for a few. */
export function writeFewMeasures(writer: RecordWriter, sampling: Sampling, truth: SyntheticTruth): void {
  const { draws, population } = sampling;
  if (!draws.isChosen('record.some-measures', population.record.someMeasures.value)) return;
  const measures = new MeasureWriter(writer, sampling, truth);
  const each = population.record.eachMeasureGroup.value;
  const chosen = GROUPS.filter((group) => draws.isChosen(`record.${group}`, each));
  const groups = chosen.length > 0 ? chosen : [draws.pick('record.only-group', GROUPS)];
  for (const group of groups) measures[group]();
}
