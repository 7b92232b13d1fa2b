import { canonicalJson } from '../base/canonical-json.js';
import { compareText, sortedUnique } from '../base/order.js';
import { conditionFact } from './condition-facts.js';
import type {
  ConstructKind,
  DataFinding,
  FindingDefinition,
  Hip,
  PresenceDefinition,
  Side,
} from './definitions.js';
import { NO_PROVENANCE, absentFact, unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import { laboratoryFact } from './laboratory-facts.js';
import { measureFact } from './measure-facts.js';
import type { HipRecord } from './patient-record.js';
import type { Body, RecordInput } from './read-record.js';
import type { Recognition } from './recognise.js';
import type { PlannedOperation } from './recognition.js';

interface Place {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  /** Findings that belong to no hip are told once, with the first. */
  readonly first: boolean;
}

export function hipRecord(
  place: Place,
  findings: readonly DataFinding[],
  body: Body,
  recognition: Recognition,
  input: RecordInput,
): HipRecord {
  const facts = new Map<string, Fact>();
  const collected: DataFinding[] = findings.filter((finding) => belongs(finding, place));
  const { knowledge } = input;
  for (const definition of knowledge.definitions) {
    switch (definition.kind) {
      case 'measure': {
        const outcome = measureFact(definition, place, body.measures, knowledge);
        facts.set(definition.id, outcome.fact);
        collected.push(...outcome.findings.filter((finding) => belongs(finding, place)));
        break;
      }
      case 'condition':
        facts.set(definition.id, conditionFact(definition, place.hip, body.diagnoses, knowledge.remarks));
        break;
      case 'observation':
        facts.set(definition.id, laboratoryFact(definition, body.observations, input));
        break;
      case 'operation':
        facts.set(definition.id, operationFact(definition.id, place.hip, recognition.operations));
        break;
      case 'presence':
        facts.set(definition.id, presenceFact(definition, place, body));
        break;
      case 'derived':
      case 'finding':
        break;
    }
  }
  const unique = uniqueFindings(collected);
  for (const definition of knowledge.definitions) {
    if (definition.kind === 'finding') facts.set(definition.id, findingFact(definition, unique, body));
  }
  return { hip: place.hip, construct: place.construct, facts, findings: unique };
}

function belongs(finding: DataFinding, place: Place): boolean {
  if (finding.construct !== 'any' && finding.construct !== place.construct) return false;
  return finding.hip === 'any' ? place.first : finding.hip === place.hip;
}

function uniqueFindings(findings: readonly DataFinding[]): readonly DataFinding[] {
  const byKey = new Map(findings.map((finding) => [canonicalJson(finding), finding]));
  return [...byKey.entries()].sort(([a], [b]) => compareText(a, b)).map(([, finding]) => finding);
}

function operationFact(id: string, hip: Hip, operations: readonly PlannedOperation[]): Fact {
  const here = operations.filter(({ side }) =>
    hip === 'unknown' ? side.kind !== 'sides' : side.kind === 'sides' && side.sides.includes(hip),
  );
  if (here.length === 0) return absentFact(id);
  return {
    id,
    state: { status: 'present', value: { kind: 'code', codes: sortedUnique(here.map(({ kind }) => kind)) } },
    provenance: { from: sortedUnique(here.map(({ name }) => name)) },
    remarks: [],
  };
}

/** Whether something is wrong with the record: present with its texts; else absent, or unknown when not all was read. */
function findingFact(definition: FindingDefinition, findings: readonly DataFinding[], body: Body): Fact {
  // In the order in which the definition names them, so that the gravest is told first.
  const mine = definition.finds.flatMap((kind) => findings.filter((finding) => finding.kind === kind));
  if (mine.length === 0) return nothingFound(definition, body);
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'recorded', texts: mine.map(({ text }) => text) } },
    provenance: { from: sortedUnique(mine.flatMap(({ from }) => from)) },
    remarks: [],
  };
}

/** Nothing found is "nothing there" only when the sets it would stand in were wholly read. */
function nothingFound(definition: FindingDefinition | PresenceDefinition, body: Body): Fact {
  const setsMissing = definition.sets.filter((key) => body.setsMissing.includes(key));
  return setsMissing.length === 0
    ? absentFact(definition.id)
    : unknownFact(definition.id, 'set-not-read', { setsMissing });
}

function presenceFact(definition: PresenceDefinition, place: Place, body: Body): Fact {
  if (!hasMeasures(body, place)) return nothingFound(definition, body);
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'recorded', texts: [definition.title] } },
    provenance: NO_PROVENANCE,
    remarks: [],
  };
}

function hasMeasures(body: Body, place: Place): boolean {
  const ofHip = (sides: readonly Side[]): boolean =>
    sides.length === 0 || (place.hip !== 'unknown' && sides.includes(place.hip));
  return (
    body.measures.readings.some(({ sides }) => ofHip(sides)) ||
    body.measures.refusals.some(({ sides }) => ofHip(sides))
  );
}
