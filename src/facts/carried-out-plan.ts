import { readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import type { CarriedOutDefinition, ConstructKind, Hip, MeasureDefinition } from './definitions.js';
import { unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { FactKnowledge } from './knowledge.js';
import { measureFact, readingsByMeasure } from './measure-facts.js';
import type { Reading } from './readings.js';
import type { Body } from './read-record.js';

const NO_PARTS: ReadonlySet<string> = new Set();

/** Prefetch sets in which a plan, or the operation it was for, might have stood. */
const SETS: ReadonlySet<string> = new Set([
  'measures',
  'localMeasures',
  'questionnaireResponses',
  'deviceRequests',
  'procedures',
]);

/**
 * What was planned for the operation that a measured value comes from: the last plan made before that operation and
 * after the one before it. Without a dated operation nobody can say that a plan was carried out.
 */
export function carriedOutFact(
  definition: CarriedOutDefinition,
  place: { readonly hip: Hip; readonly construct: ConstructKind },
  body: Body,
  knowledge: FactKnowledge,
): Fact {
  const { id, unit } = definition;
  const { hip, construct } = place;
  if (hip === 'unknown' || construct !== 'in-place') return unknownFact(id, 'not-recorded', { unit });
  const measure = knowledge.definitions.find((one): one is MeasureDefinition => one.id === definition.of);
  if (!measure) return unknownFact(id, 'not-recorded', { unit });
  const measured = measureFact(measure, { hip, construct, retained: NO_PARTS }, body.measures, knowledge);
  const time = readFhirDate(measured.fact.provenance.date);
  const candidates = body.carriedOut.filter(
    (reading) =>
      reading.definition === measure && reading.sides.includes(hip) && isFor(reading, time, hip, body),
  );
  if (candidates.length === 0) {
    const setsMissing = body.setsMissing.filter((key) => SETS.has(key));
    return setsMissing.length > 0
      ? unknownFact(id, 'set-not-read', { unit, setsMissing })
      : unknownFact(id, 'not-recorded', { unit });
  }
  const sources = {
    readings: candidates,
    byMeasure: readingsByMeasure(candidates),
    refusals: [],
    setsMissing: [],
  };
  const { fact } = measureFact(
    measure,
    { hip, construct: 'planned', retained: NO_PARTS },
    sources,
    knowledge,
  );
  return { ...fact, id, ...(fact.state.status === 'unknown' && { state: { ...fact.state, needs: [id] } }) };
}

/** Whether a plan is the one of the operation after which something was measured. */
function isFor(plan: Reading, measured: Span | undefined, hip: Hip, body: Body): boolean {
  const made = plan.span;
  if (!made || !measured) return false;
  const operations = operationsOn(hip, body).filter(({ from }) => from <= measured.to);
  const last = operations.at(-1);
  const before = operations.at(-2);
  if (!last || made.to >= last.from) return false;
  return before === undefined || made.from > before.to;
}

/** Dated replacements of a hip, oldest first. */
function operationsOn(hip: Hip, { history }: Body): readonly Span[] {
  return history.arthroplasties
    .flatMap(({ side, span }) =>
      span && hip !== 'unknown' && side.kind === 'sides' && side.sides.includes(hip) ? [span] : [],
    )
    .sort((a, b) => a.from - b.from || a.to - b.to);
}
