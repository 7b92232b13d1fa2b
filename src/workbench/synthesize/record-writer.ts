import { ICD_10_CM, ICD_10_PCS, SNOMED_CT, UCUM } from '../../fhir/codings.js';
import type { JsonObject } from '../../fhir/json.js';
import { HIP_MEASURE, HIP_MEASURE_VALUE, HIP_SITES, LOINC, MEASURE_GROUP, MEASURE_STAGE } from './codes.js';
import type { DiagnosisCodes, ProcedureCodes } from './codes.js';
import type { SyntheticSide } from './truth.js';

/** In which code systems a record keeps its diagnoses and operations. */
export type CodeStyle = 'icd-10' | 'snomed' | 'both';

export type Verification = 'confirmed' | 'refuted' | 'entered-in-error';
export type Stage = 'native' | 'planned' | 'postoperative';

export interface MeasureOptions {
  readonly stage: Stage;
  readonly on: string;
  readonly side?: SyntheticSide;
  /** Coded answers that say how the value is to be read: method, plane, reference. */
  readonly components?: Readonly<Record<string, string>>;
  readonly isWithdrawn?: boolean;
}

const SERVER = 'https://record.example/fhir';
const TERMINOLOGY = 'http://terminology.hl7.org/CodeSystem';

/** Writes the record of one patient, resource after resource, as one collection. */
export class RecordWriter {
  readonly #resources: JsonObject[] = [];
  readonly #counts = new Map<string, number>();

  constructor(
    readonly patientId: string,
    private readonly style: CodeStyle,
  ) {}

  patient(gender: string, birthDate: string): void {
    this.#resources.push({ resourceType: 'Patient', id: this.patientId, gender, birthDate });
  }

  diagnosis(
    codes: DiagnosisCodes,
    onset: string,
    side?: SyntheticSide,
    verification: Verification = 'confirmed',
  ): void {
    const isSnomed = this.style !== 'icd-10' && codes.snomed !== undefined;
    const isIcd = this.style !== 'snomed' || codes.snomed === undefined;
    const coding = [
      ...(isSnomed ? [{ system: SNOMED_CT, code: codes.snomed }] : []),
      ...(isIcd ? [{ system: ICD_10_CM, code: onSide(codes.icd10cm, side) }] : []),
    ];
    this.#add('Condition', {
      ...(verification !== 'entered-in-error' && {
        clinicalStatus: concept(`${TERMINOLOGY}/condition-clinical`, 'active'),
      }),
      verificationStatus: concept(`${TERMINOLOGY}/condition-ver-status`, verification),
      code: { coding },
      ...(isSnomed && codes.isSided && side !== undefined && { bodySite: [hip(side)] }),
      subject: this.#subject(),
      onsetDateTime: onset,
    });
  }

  procedure(codes: ProcedureCodes, performed: string, side?: SyntheticSide): void {
    const isSnomed = this.style !== 'icd-10' && codes.snomed !== undefined;
    const isIcd = this.style !== 'snomed' || codes.snomed === undefined;
    this.#add('Procedure', {
      status: 'completed',
      code: {
        coding: [
          ...(isSnomed ? [{ system: SNOMED_CT, code: codes.snomed }] : []),
          ...(isIcd ? [{ system: ICD_10_PCS, code: onSide(codes.icd10pcs, side) }] : []),
        ],
      },
      subject: this.#subject(),
      performedDateTime: performed,
      ...(isSnomed && side !== undefined && { bodySite: [hip(side)] }),
    });
  }

  observation(loinc: string, value: number, unit: string, on: string): void {
    this.#add('Observation', {
      status: 'final',
      code: concept(LOINC, loinc),
      subject: this.#subject(),
      effectiveDateTime: on,
      valueQuantity: quantity(value, unit),
    });
  }

  /** A measure of ours; a planned one belongs to the order. */
  measure(code: string, value: number | string | boolean, options: MeasureOptions): void {
    const { stage, on, side, components = {}, isWithdrawn = false } = options;
    const parts = Object.entries(components).map(([name, answer]) => ({
      code: concept(HIP_MEASURE, name),
      valueCodeableConcept: concept(HIP_MEASURE_VALUE, answer),
    }));
    this.#add('Observation', {
      ...(stage === 'planned' && { basedOn: [{ reference: `ServiceRequest/${this.#orderId()}` }] }),
      status: isWithdrawn ? 'entered-in-error' : stage === 'planned' ? 'preliminary' : 'final',
      category: [concept(MEASURE_STAGE, stage), concept(MEASURE_GROUP, 'hip-stability')],
      code: concept(HIP_MEASURE, code),
      subject: this.#subject(),
      effectiveDateTime: on,
      ...measureValue(code, value),
      ...(side !== undefined && { bodySite: hip(side) }),
      ...(parts.length > 0 && { component: parts }),
    });
  }

  order(snomed: string, authored: string, side: SyntheticSide | undefined): void {
    this.#resources.push({
      resourceType: 'ServiceRequest',
      id: this.#orderId(),
      status: 'draft',
      intent: 'order',
      code: concept(SNOMED_CT, snomed),
      ...(side !== undefined && { bodySite: [hip(side)] }),
      subject: this.#subject(),
      authoredOn: authored,
    });
  }

  visit(): void {
    this.#add('Appointment', {
      status: 'proposed',
      basedOn: [{ reference: `ServiceRequest/${this.#orderId()}` }],
      participant: [{ actor: this.#subject(), status: 'accepted' }],
    });
  }

  bundle(): JsonObject {
    return {
      resourceType: 'Bundle',
      type: 'collection',
      entry: this.#resources.map((resource) => ({
        fullUrl: `${SERVER}/${String(resource['resourceType'])}/${String(resource['id'])}`,
        resource,
      })),
    };
  }

  #add(resourceType: string, members: JsonObject): void {
    const count = (this.#counts.get(resourceType) ?? 0) + 1;
    this.#counts.set(resourceType, count);
    const id = `${this.patientId}-${resourceType.toLowerCase()}-${count}`;
    this.#resources.push({ resourceType, id, ...members });
  }

  #subject(): JsonObject {
    return { reference: `Patient/${this.patientId}` };
  }

  #orderId(): string {
    return `${this.patientId}-order`;
  }
}

function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}

function hip(side: SyntheticSide): JsonObject {
  return concept(SNOMED_CT, HIP_SITES[side]);
}

function onSide(
  code: string | Readonly<Record<SyntheticSide, string>>,
  side: SyntheticSide | undefined,
): string {
  if (typeof code === 'string') return code;
  if (side === undefined) throw new TypeError(`a side is needed for ${code.left}`);
  return code[side];
}

function quantity(value: number, unit: string): JsonObject {
  return { value, unit, system: UCUM, code: unit };
}

const INTEGERS: ReadonlySet<string> = new Set(['abductor-strength', 'dislocation-count']);
const MILLIMETERS: ReadonlySet<string> = new Set([
  'cup-outer-diameter',
  'femoral-offset-change',
  'global-offset-difference',
  'head-diameter',
  'head-penetration',
  'hip-center-medialization',
  'leg-length-change',
  'leg-length-discrepancy',
  'mobile-liner-diameter',
  'native-femoral-offset',
  'neck-diameter',
]);

function measureValue(code: string, value: number | string | boolean): JsonObject {
  if (typeof value === 'boolean') return { valueBoolean: value };
  if (typeof value === 'string') return { valueCodeableConcept: concept(HIP_MEASURE_VALUE, value) };
  if (INTEGERS.has(code)) return { valueInteger: value };
  if (code === 'head-penetration-rate') return { valueQuantity: quantity(value, 'mm/a') };
  return { valueQuantity: quantity(value, MILLIMETERS.has(code) ? 'mm' : 'deg') };
}
