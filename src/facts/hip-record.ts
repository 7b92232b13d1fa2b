import { canonicalJson } from '../base/canonical-json.js';
import { assertNever } from '../base/never.js';
import { compareText, sortedUnique } from '../base/order.js';
import { afterReplacementFact } from './after-replacement.js';
import { agedFact } from './aged-fact.js';
import { carriedOutFact } from './carried-out-plan.js';
import { conditionFact } from './condition-facts.js';
import type {
  ConstructKind,
  DataFinding,
  FactDefinition,
  FindingDefinition,
  Hip,
  HistoryDefinition,
  MeasureDefinition,
  PresenceDefinition,
  Side,
} from './definitions.js';
import { episodesFact } from './episodes-fact.js';
import { NO_PROVENANCE, absentFact, unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { Remarks } from './knowledge.js';
import { firstDislocationFact } from './first-dislocation.js';
import { laboratoryFact } from './laboratory-facts.js';
import { patientFact } from './patient-fact.js';
import { measureFact } from './measure-facts.js';
import type { MeasurePlace } from './measure-facts.js';
import type { SideReading } from './laterality.js';
import type { HipRecord } from './patient-record.js';
import type { Body, RecordInput } from './read-record.js';
import type { Recognition } from './recognise.js';
import { replacementKindFact } from './replacement-kind.js';
import { applyDefaults } from './site-defaults.js';
import { unclearFact } from './unclear-fact.js';
import { versionSignFact } from './version-sign.js';

interface Place {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  /** Findings that belong to no hip are told once, with the first. */
  readonly first: boolean;
  /** What is told of a hip, whichever construct it concerns, is told once, with its first construct. */
  readonly firstOfHip: boolean;
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
  const { definitions } = input.knowledge;
  const { recorded, following, finding } = byTurn(definitions);
  const retained = retainedParts(place, body);
  const sources: HipSources = { place: { ...place, retained }, body, recognition, input };
  for (const definition of recorded) {
    if (definition.kind === 'measure') {
      const outcome = measureFact(definition, sources.place, body.measures, input.knowledge);
      facts.set(definition.id, outcome.fact);
      for (const one of outcome.findings) if (belongs(one, place)) collected.push(one);
    } else {
      facts.set(definition.id, recordedFact(definition, sources));
    }
  }
  for (const definition of following) facts.set(definition.id, factAboutFacts(definition, facts, sources));
  const whole = input.defaults ? new Map(applyDefaults(facts, input.defaults, place.construct)) : facts;
  const unique = uniqueFindings(collected);
  for (const definition of finding) whole.set(definition.id, findingFact(definition, unique, place, body));
  return { hip: place.hip, construct: place.construct, facts: whole, findings: unique };
}

interface HipSources {
  readonly place: Place & MeasurePlace;
  readonly body: Body;
  readonly recognition: Recognition;
  readonly input: RecordInput;
}

type FollowingDefinition = Extract<
  FactDefinition,
  { readonly kind: 'unclear' | 'aged' | 'after-replacement' | 'replacement-kind' | 'version-sign' }
>;
type RecordedDefinition = Exclude<
  FactDefinition,
  FollowingDefinition | FindingDefinition | { readonly kind: 'derived' }
>;

/** What stands in the record, what follows from other facts, and what from the findings; what is derived is the engine's. */
interface Turns {
  readonly recorded: readonly RecordedDefinition[];
  readonly following: readonly FollowingDefinition[];
  readonly finding: readonly FindingDefinition[];
}

/** Definitions belong to the rulebook and never change: they are put in turn once. */
const turns = new WeakMap<readonly FactDefinition[], Turns>();

function byTurn(definitions: readonly FactDefinition[]): Turns {
  const known = turns.get(definitions);
  if (known) return known;
  const recorded: RecordedDefinition[] = [];
  const following: FollowingDefinition[] = [];
  const finding: FindingDefinition[] = [];
  for (const definition of definitions) {
    switch (definition.kind) {
      case 'unclear':
      case 'aged':
      case 'after-replacement':
      case 'replacement-kind':
      case 'version-sign':
        following.push(definition);
        break;
      case 'finding':
        finding.push(definition);
        break;
      case 'derived':
        break;
      default:
        recorded.push(definition);
    }
  }
  const all = { recorded, following, finding };
  turns.set(definitions, all);
  return all;
}

/** What is recorded of a hip besides measures. */
function recordedFact(
  definition: Exclude<RecordedDefinition, MeasureDefinition>,
  { place, body, recognition, input }: HipSources,
): Fact {
  const { knowledge } = input;
  switch (definition.kind) {
    case 'condition':
      return conditionFact(definition, place.hip, body.diagnoses, knowledge.remarks);
    case 'observation':
      return laboratoryFact(definition, body.observations, input);
    case 'patient':
      return patientFact(definition, body.patient, input.now);
    case 'operation':
      return operationFact(definition.id, place, recognition);
    case 'history':
      return historyFact(definition, place.hip, body, knowledge.remarks);
    case 'episodes':
      return episodesFact(definition, place.hip, body);
    case 'first-dislocation':
      return firstDislocationFact(definition, { hip: place.hip, body, definitions: knowledge.definitions });
    case 'carried-out':
      return carriedOutFact(definition, place, body, knowledge);
    case 'presence':
      return presenceFact(definition, place, body);
    default:
      return assertNever(definition);
  }
}

/** What follows from other facts of the same hip, and from when they were recorded. */
function factAboutFacts(
  definition: FollowingDefinition,
  facts: ReadonlyMap<string, Fact>,
  { place, body, recognition, input }: HipSources,
): Fact {
  const { knowledge, now } = input;
  const { definitions, remarks } = knowledge;
  const { hip, construct } = place;
  switch (definition.kind) {
    case 'unclear':
      return unclearFact(definition, facts);
    case 'aged':
      return agedFact(definition, facts, { hip, body, definitions, now });
    case 'after-replacement':
      return place.firstOfHip
        ? afterReplacementFact(definition, { hip, body, definitions, remarks })
        : absentFact(definition.id);
    case 'replacement-kind':
      return replacementKindFact(definition, place, facts, {
        body,
        operations: recognition.operations,
        definitions,
      });
    case 'version-sign':
      return versionSignFact(definition, facts, construct, knowledge);
    default:
      return assertNever(definition);
  }
}

function belongs(finding: DataFinding, place: Place): boolean {
  if (finding.construct !== 'any' && finding.construct !== place.construct) return false;
  return finding.hip === 'any' ? place.first : finding.hip === place.hip;
}

function uniqueFindings(findings: readonly DataFinding[]): readonly DataFinding[] {
  const byKey = new Map(findings.map((finding) => [canonicalJson(finding), finding]));
  return [...byKey.entries()].sort(([a], [b]) => compareText(a, b)).map(([, finding]) => finding);
}

/** Components that the plan says stay in place. */
function retainedParts(place: Place, { measures }: Body): ReadonlySet<string> {
  if (place.construct !== 'planned' || place.hip === 'unknown') return NONE;
  const hip = place.hip;
  const readings = measures.byMeasure.get('component-retained') ?? [];
  return new Set(
    readings
      .filter(({ stage, sides }) => stage === 'planned' && sides.includes(hip))
      .flatMap(({ value }) => (value.kind === 'code' ? value.codes : [])),
  );
}

const NONE: ReadonlySet<string> = new Set();

/** What is planned for this hip; for the construct in place, that there is one. */
function operationFact(id: string, place: Place, recognition: Recognition): Fact {
  const isHere = ({ side }: { readonly side: SideReading }): boolean =>
    place.hip === 'unknown' ? side.kind !== 'sides' : side.kind === 'sides' && side.sides.includes(place.hip);
  if (place.construct === 'in-place') {
    const here = recognition.implanted.filter(isHere);
    return codeFact(id, here.length > 0 ? ['implanted'] : [], here);
  }
  const here = recognition.operations.filter(isHere);
  const operations = here.filter(({ kind }) => kind !== 'implant');
  // Implants alone say that a hip is to be replaced, not how.
  const kinds = operations.length > 0 ? operations.map(({ kind }) => kind) : here.map(() => 'unspecified');
  return codeFact(id, kinds, operations.length > 0 ? operations : here);
}

function codeFact(id: string, codes: readonly string[], from: readonly { readonly name: string }[]): Fact {
  if (codes.length === 0) return absentFact(id);
  return {
    id,
    state: { status: 'present', value: { kind: 'code', codes: sortedUnique(codes) } },
    provenance: { from: sortedUnique(from.map(({ name }) => name)) },
    remarks: [],
  };
}

/** Operations done on this hip: present with their dates; absent only when all earlier procedures were read. */
function historyFact(definition: HistoryDefinition, hip: Hip, body: Body, words: Remarks): Fact {
  const kinds: ReadonlySet<string> = new Set(definition.arthroplasties);
  const mine = body.history.arthroplasties.filter(
    ({ kind, side }) =>
      kinds.has(kind) && (side.kind !== 'sides' || (hip !== 'unknown' && side.sides.includes(hip))),
  );
  if (mine.length === 0) {
    const setsMissing = body.setsMissing.filter((key) => key === 'procedures');
    return setsMissing.length === 0
      ? absentFact(definition.id)
      : unknownFact(definition.id, 'set-not-read', { setsMissing });
  }
  const [first] = mine;
  const dates = sortedUnique(mine.flatMap(({ date }) => date ?? []));
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'recorded', texts: [definition.title] } },
    provenance: {
      from: sortedUnique(mine.map(({ name }) => name)),
      ...(first?.date !== undefined && { date: first.date }),
      ...(dates.length > 1 && { lastDate: dates.at(-1) ?? '' }),
    },
    remarks: mine.some(({ side }) => side.kind === 'sides')
      ? []
      : [`${definition.title}: ${words.sideNotStated}`],
  };
}

/** Whether something is wrong with the record: present with its texts; else absent, or unknown when not all was read. */
function findingFact(
  definition: FindingDefinition,
  findings: readonly DataFinding[],
  place: Place,
  body: Body,
): Fact {
  // In the order in which the definition names them, so that the gravest is told first.
  const mine = definition.finds.flatMap((kind) => findings.filter((finding) => finding.kind === kind));
  if (mine.length === 0) return nothingFound(definition, place, body);
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'recorded', texts: mine.map(({ text }) => text) } },
    provenance: { from: sortedUnique(mine.flatMap(({ from }) => from)) },
    remarks: [],
  };
}

/**
 * Nothing found is "nothing there" only when the sets it would stand in were wholly read. To a plan for the other side
 * the open orders only say whether it has an order: without such a plan they could change nothing.
 */
function nothingFound(
  definition: FindingDefinition | PresenceDefinition,
  { construct }: Place,
  body: Body,
): Fact {
  const unread = definition.sets.filter(
    (key) => body.setsMissing.includes(key) && (ONLY_OF[key] ?? construct) === construct,
  );
  const setsMissing = settledByOrders(definition, unread, body) ? [] : unread;
  return setsMissing.length === 0
    ? absentFact(definition.id)
    : unknownFact(definition.id, 'set-not-read', { setsMissing });
}

function settledByOrders(
  definition: FindingDefinition | PresenceDefinition,
  unread: readonly string[],
  { heldBack }: Body,
): boolean {
  if (definition.kind !== 'finding' || !definition.finds.every((kind) => kind === 'other-side-plan'))
    return false;
  return unread.every((key) => key === 'serviceRequests') && heldBack.length === 0;
}

/** Sets that speak of one construct only. */
const ONLY_OF: Readonly<Record<string, ConstructKind>> = {
  devices: 'in-place',
  deviceRequests: 'planned',
  questionnaireResponses: 'planned',
};

function presenceFact(definition: PresenceDefinition, place: Place, body: Body): Fact {
  if (!hasMeasures(body, place)) return nothingFound(definition, place, body);
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
