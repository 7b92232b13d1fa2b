import { bundleEntries } from '../../fhir/bundle.js';
import { SNOMED_CT, UCUM, codesIn, codingsOf } from '../../fhir/codings.js';
import { asText, objectsIn } from '../../fhir/json.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Located } from '../../fhir/references.js';
import type { MeasureDefinition } from '../../facts/definitions.js';
import type { Rulebook } from '../../rulebook/types.js';
import { HIP_SITES } from '../synthesize/codes.js';
import { SYSTEMS } from './system-names.js';
import type { Changes, Coded, Measured } from './edge-schema.js';

/** Applies the changes of an edge case to a copy of a test patient's Bundle; throws Error with what does not fit. */
export function changedBundle(
  bundle: JsonObject,
  changes: readonly Changes[],
  now: string,
  rulebook: Rulebook,
): JsonObject {
  const editor = new BundleEditor(bundleEntries(bundle), now, rulebook);
  for (const change of changes) editor.apply(change);
  return { ...bundle, entry: editor.entries };
}

type Side = keyof typeof HIP_SITES;

const DAY = 86_400_000;

/** Edits the entries of one Bundle in place; it lives for one edge case. */
class BundleEditor {
  entries: readonly Located[];
  #added = 0;

  constructor(
    entries: readonly Located[],
    private readonly now: string,
    private readonly rulebook: Rulebook,
  ) {
    this.entries = entries;
  }

  apply(changes: Changes): void {
    const {
      set = {},
      laboratory = {},
      patient,
      conditions = [],
      procedures = [],
      order,
      without = [],
    } = changes;
    for (const name of without) this.leaveOut(name);
    if (patient !== undefined) this.changePatient(patient);
    if (order !== undefined) this.reorder(order);
    for (const [key, value] of Object.entries(set)) this.setMeasure(key, value);
    for (const [token, value] of Object.entries(laboratory)) this.addLaboratory(token, value);
    for (const one of conditions) this.addCondition(one);
    for (const one of procedures) this.addProcedure(one);
  }

  /** Leaves out a type of resource, or one by its id; the site names nothing that is not there. */
  private leaveOut(name: string): void {
    const kept = this.entries.filter(
      ({ resource }) => resource['resourceType'] !== name && resource['id'] !== name,
    );
    if (kept.length === this.entries.length) throw new Error(`without: nothing called ${name} in the base`);
    this.entries = kept;
  }

  private reorder(given: NonNullable<Changes['order']>): void {
    const { code, more } = typeof given === 'string' ? { code: given } : given;
    const draft = this.draft();
    if (!draft) throw new Error('order: the base has no draft order');
    this.replace(draft, { ...draft, ...(code !== undefined && { code: conceptOf(code) }), ...more });
  }

  private changePatient(members: NonNullable<Changes['patient']>): void {
    const patient = this.patient();
    if (!patient) throw new Error('patient: the base has no Patient');
    const changed = Object.entries({ ...patient, ...members }).filter(([, value]) => value !== null);
    this.replace(patient, Object.fromEntries(changed));
  }

  private addLaboratory(token: string, given: NonNullable<Changes['laboratory']>[string]): void {
    const { value, date } = typeof given === 'number' ? { value: given, date: this.daysBefore(43) } : given;
    const code = conceptOf(token);
    const sets = codingsOf(code, this.rulebook.knowledge.aliases).flatMap((coding) => [
      ...this.rulebook.knowledge.valueSets.setsOf(coding),
    ]);
    const definition = this.rulebook.facts.find(
      (fact) => fact.kind === 'observation' && sets.includes(fact.valueSet),
    );
    if (definition?.kind !== 'observation') throw new Error(`laboratory: no fact is read from ${token}`);
    const { id, unit } = definition;
    this.add({
      resourceType: 'Observation',
      id: this.newId(id),
      status: 'final',
      code,
      subject: this.subject(),
      effectiveDateTime: date,
      valueQuantity: { value, unit, system: UCUM, code: unit },
    });
  }

  private setMeasure(key: string, given: NonNullable<Changes['set']>[string]): void {
    const { measure, stage, beside } = nameParts(key);
    const definition = this.rulebook.factById.get(measure);
    if (definition?.kind !== 'measure') throw new Error(`set: no measure is called ${measure}`);
    const found = this.entries
      .map(({ resource }) => resource)
      .filter((resource) => this.isMeasure(resource, measure) && this.isAtStage(resource, stage));
    if (given === null) {
      if (found.length === 0) throw new Error(`set: there is no ${key} to take away`);
      this.entries = this.entries.filter(({ resource }) => !found.includes(resource));
      return;
    }
    const reading: Measured = typeof given === 'object' && 'value' in given ? given : { value: given };
    const [only, second] = found;
    if (second && !beside) throw new Error(`set: the base has ${found.length} of ${key}: name the stage`);
    if (only && !beside) this.replace(only, this.changedReading(only, reading, definition));
    else this.add(this.newReading(reading, definition, stage ?? this.usualStage(definition)));
  }

  private isMeasure(resource: JsonObject, measure: string): boolean {
    const { systems } = this.rulebook.about;
    return (
      resource['resourceType'] === 'Observation' &&
      codesIn(resource['code'], systems.measure, this.rulebook.knowledge.aliases).includes(measure)
    );
  }

  private isAtStage(resource: JsonObject, stage: string | undefined): boolean {
    const { systems } = this.rulebook.about;
    return (
      stage === undefined ||
      objectsIn(resource['category']).some((category) =>
        codesIn(category, systems.stage, this.rulebook.knowledge.aliases).includes(stage),
      )
    );
  }

  private changedReading(resource: JsonObject, reading: Measured, definition: MeasureDefinition): JsonObject {
    const kept = Object.entries(resource).filter(
      ([name]) => !name.startsWith('value') && (name !== 'component' || reading.with === undefined),
    );
    return { ...Object.fromEntries(kept), ...this.readingParts(reading, definition) };
  }

  /** What is planned where there is an order, of this hip otherwise, before the operation if it can be. */
  private usualStage({ stages }: MeasureDefinition): string {
    const wanted = this.draft()
      ? ['planned', 'native', 'postoperative', 'intraoperative']
      : ['postoperative', 'native', 'intraoperative', 'planned'];
    return wanted.find((stage) => stages.some((own) => own === stage)) ?? 'postoperative';
  }

  private newReading(reading: Measured, definition: MeasureDefinition, stage: string): JsonObject {
    const { systems } = this.rulebook.about;
    const [groupSystem = '', groupCode = ''] = systems.group.split('|');
    const planned = stage === 'planned';
    const draft = this.draft();
    return {
      resourceType: 'Observation',
      id: this.newId(definition.id),
      status: planned ? 'preliminary' : 'final',
      ...(planned && draft && { basedOn: [{ reference: `ServiceRequest/${String(draft['id'])}` }] }),
      category: [concept(systems.stage, stage), concept(groupSystem, groupCode)],
      code: concept(systems.measure, definition.id),
      subject: this.subject(),
      effectiveDateTime: this.daysBefore(planned ? 22 : 43),
      ...(definition.scope === 'hip' && { bodySite: this.siteOf(reading.side) }),
      ...this.readingParts(reading, definition),
    };
  }

  private readingParts(
    { value, date, with: parts, more }: Measured,
    definition: MeasureDefinition,
  ): JsonObject {
    const { systems } = this.rulebook.about;
    const component = Object.entries(parts ?? {}).map(([name, given]) => ({
      code: concept(systems.measure, name),
      ...(typeof given === 'boolean'
        ? { valueBoolean: given }
        : { valueCodeableConcept: concept(systems.measureValue, given) }),
    }));
    return {
      ...valueOf(value, definition, systems.measureValue),
      ...(date !== undefined && { effectiveDateTime: date }),
      ...(component.length > 0 && { component }),
      ...more,
    };
  }

  private addCondition(given: Coded): void {
    const { code, side, date, more } = typeof given === 'string' ? { code: given } : given;
    const CLINICAL = 'http://terminology.hl7.org/CodeSystem/condition-clinical';
    const VERIFIED = 'http://terminology.hl7.org/CodeSystem/condition-ver-status';
    this.add({
      resourceType: 'Condition',
      id: this.newId('condition'),
      clinicalStatus: concept(CLINICAL, 'active'),
      verificationStatus: concept(VERIFIED, 'confirmed'),
      code: conceptOf(code),
      ...(side && { bodySite: [this.siteOf(side)] }),
      subject: this.subject(),
      ...(date !== null && { onsetDateTime: date ?? '2019-03-01' }),
      ...more,
    });
  }

  private addProcedure(given: Coded): void {
    const { code, side, date, more } = typeof given === 'string' ? { code: given } : given;
    this.add({
      resourceType: 'Procedure',
      id: this.newId('procedure'),
      status: 'completed',
      code: conceptOf(code),
      subject: this.subject(),
      ...(date !== null && { performedDateTime: date ?? '2018-03-05' }),
      // The operated hip: most codes of operations name no side.
      bodySite: [this.siteOf(side)],
      ...more,
    });
  }

  private draft(): JsonObject | undefined {
    return this.entries.find(
      ({ resource }) => resource['resourceType'] === 'ServiceRequest' && resource['status'] === 'draft',
    )?.resource;
  }

  private subject(): JsonObject {
    return { reference: `Patient/${asText(this.patient()?.['id']) ?? ''}` };
  }

  private patient(): JsonObject | undefined {
    return this.entries.find(({ resource }) => resource['resourceType'] === 'Patient')?.resource;
  }

  /** The site named, or that of the order or of the operation done. */
  private siteOf(side: Side | undefined): JsonObject {
    if (side) return concept(SNOMED_CT, HIP_SITES[side]);
    const sided = [
      this.draft(),
      ...this.entries
        .map(({ resource }) => resource)
        .filter(({ resourceType }) => resourceType === 'Procedure'),
    ];
    const site = sided.flatMap((resource) => objectsIn(resource?.['bodySite']))[0];
    if (!site) throw new Error('the base names no side: say which');
    return site;
  }

  private daysBefore(days: number): string {
    return new Date(Date.parse(this.now) - days * DAY).toISOString().slice(0, 10);
  }

  private newId(what: string): string {
    this.#added += 1;
    return `edge-${this.#added}-${what}`;
  }

  private add(resource: JsonObject): void {
    this.entries = [...this.entries, { resource }];
  }

  private replace(old: JsonObject, resource: JsonObject): void {
    this.entries = this.entries.map((entry) => (entry.resource === old ? { ...entry, resource } : entry));
  }
}

function nameParts(key: string): {
  readonly measure: string;
  readonly stage: string | undefined;
  readonly beside: boolean;
} {
  const beside = key.endsWith('+');
  const [measure = '', stage] = (beside ? key.slice(0, -1) : key).split('@');
  return { measure, stage, beside };
}

function valueOf(value: Measured['value'], definition: MeasureDefinition, codes: string): JsonObject {
  const { unit = '1' } = definition;
  const quantity = (number: number): JsonObject => ({ value: number, unit, system: UCUM, code: unit });
  if (typeof value === 'boolean') return { valueBoolean: value };
  if (typeof value === 'string') return { valueCodeableConcept: concept(codes, value) };
  if (typeof value === 'number')
    return definition.valueType === 'integer' ? { valueInteger: value } : { valueQuantity: quantity(value) };
  return { valueRange: { low: quantity(value[0]), high: quantity(value[1]) } };
}

function conceptOf(token: string): JsonObject {
  const bar = token.indexOf('|');
  const system = token.slice(0, bar);
  return concept(SYSTEMS[system] ?? system, token.slice(bar + 1));
}

function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}
