import { monthsBefore, readFhirDate } from '../base/dates.js';
import { compareText } from '../base/order.js';
import { codingsOf, hasUnknownModifier } from '../fhir/codings.js';
import { asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { LaboratoryDefinition } from './definitions.js';
import type { Fact } from './fact.js';
import { unknownFact } from './fact.js';
import type { FactKnowledge } from './knowledge.js';
import { isInFuture } from './observation-reader.js';
import { readQuantity } from './quantity.js';

const USABLE: ReadonlySet<unknown> = new Set(['final', 'amended', 'corrected', 'preliminary']);

interface Value {
  readonly from: string;
  readonly date: string;
  readonly time: number;
  readonly low: number;
  readonly high: number;
  readonly asFound: { readonly value: string; readonly unit: string };
}

/** The newest usable value of an ordinary observation, matched by its value set. */
export function laboratoryFact(
  definition: LaboratoryDefinition,
  observations: readonly Located[],
  context: { readonly knowledge: FactKnowledge; readonly now: number },
): Fact {
  const matching = observations.filter(({ resource }) => isOne(resource, definition, context.knowledge));
  const values = matching
    .flatMap((located) => readValue(located, definition, context.now))
    .sort((a, b) => b.time - a.time || a.low - b.low || compareText(a.from, b.from));
  const [newest] = values;
  if (!newest)
    return unknownFact(definition.id, matching.length > 0 ? 'refused' : 'not-recorded', {
      unit: definition.unit,
    });
  if (definition.staleAfter && newest.time < monthsBefore(context.now, definition.staleAfter.months))
    return unknownFact(definition.id, 'stale', {
      unit: definition.unit,
      provenance: { from: [newest.from], date: newest.date, asFound: newest.asFound },
    });
  return {
    id: definition.id,
    state: {
      status: 'present',
      value: { kind: 'quantity', interval: { low: newest.low, high: newest.high } },
    },
    unit: definition.unit,
    provenance: { from: [newest.from], date: newest.date, asFound: newest.asFound },
    remarks: [],
  };
}

function isOne(resource: JsonObject, definition: LaboratoryDefinition, knowledge: FactKnowledge): boolean {
  if (!USABLE.has(resource['status']) || hasUnknownModifier(resource)) return false;
  return (
    knowledge.valueSets.match(codingsOf(resource['code'], knowledge.aliases), definition.valueSet) !==
    undefined
  );
}

function readValue(located: Located, definition: LaboratoryDefinition, now: number): readonly Value[] {
  const { resource } = located;
  const date = asText(resource['effectiveDateTime']) ?? asText(resource['issued']);
  const span = readFhirDate(date);
  const reading = readQuantity(resource['valueQuantity'], definition.unit);
  if (!reading.ok || date === undefined || !span || isInFuture(span, now)) return [];
  const { low, high } = reading.interval;
  const limits = definition.plausible;
  if (limits && (low < limits.low || high > limits.high)) return [];
  return [{ from: nameOf(located), date, time: span.from, low, high, asFound: reading.asFound }];
}
