import type { DataSet } from '../fhir/bundle.js';
import { asObject } from '../fhir/json.js';
import { codingsOf } from '../fhir/codings.js';
import type { Hip, Side } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import { sideOf } from './laterality.js';
import type { SideReading } from './laterality.js';
import { hipsOf } from './recognise.js';
import type { Recognition } from './recognise.js';

/** Why nothing is said about a hip although it was recognised. */
export type SilenceReason = 'reduction-ordered' | 'operation-in-progress' | 'emergency';

export interface Silenced {
  readonly hip: Hip | 'any';
  readonly why: SilenceReason;
}

const UNDER_WAY: ReadonlySet<unknown> = new Set(['arrived', 'triaged', 'in-progress', 'onleave']);
const OPEN: ReadonlySet<unknown> = new Set(['draft', 'active', 'on-hold']);

/**
 * This service is not for emergencies or for the running operation: nothing is said of a hip that is being reduced
 * or operated on now, nor in an emergency visit without a planned replacement. An urgent replacement is answered.
 */
export function silencedHips(
  own: ReadonlyMap<string, DataSet>,
  recognition: Recognition,
  inProgress: readonly { readonly side: SideReading }[],
  knowledge: FactKnowledge,
): readonly Silenced[] {
  const silenced: Silenced[] = inProgress.flatMap(({ side }) => hipsOfSide(side, 'operation-in-progress'));
  if (recognition.operations.length === 0 && isEmergency(own))
    silenced.push({ hip: 'any', why: 'emergency' });
  // A replacement ordered for the dislocated hip itself is answered; one of the other hip opens nothing here.
  const planned: readonly Hip[] = hipsOf(recognition.operations);
  silenced.push(...reductionsOrdered(own, knowledge).filter(({ hip }) => !isPlanned(hip, planned)));
  return silenced;
}

function isPlanned(hip: Hip | 'any', planned: readonly Hip[]): boolean {
  return hip === 'any' ? planned.length > 0 : planned.includes(hip) || planned.includes('unknown');
}

function hipsOfSide(side: SideReading, why: SilenceReason): readonly Silenced[] {
  if (side.kind !== 'sides') return [{ hip: 'any', why }];
  return side.sides.map((hip: Side) => ({ hip, why }));
}

function isEmergency(own: ReadonlyMap<string, DataSet>): boolean {
  return (own.get('encounter')?.resources ?? []).some(
    ({ resource }) =>
      resource['resourceType'] === 'Encounter' &&
      UNDER_WAY.has(resource['status']) &&
      asObject(resource['class'])?.['code'] === 'EMER',
  );
}

/** An order to reduce a dislocated hip is open: what comes now is the reduction. */
function reductionsOrdered(own: ReadonlyMap<string, DataSet>, knowledge: FactKnowledge): readonly Silenced[] {
  return (own.get('serviceRequests')?.resources ?? []).flatMap(({ resource }) => {
    const asked = OPEN.has(resource['status']) && resource['intent'] !== 'option';
    if (!asked || resource['doNotPerform'] === true) return [];
    const sets = codingsOf(resource['code'], knowledge.aliases).flatMap((coding) => [
      ...knowledge.valueSets.setsOf(coding),
    ]);
    return sets.some((id) => REDUCES.has(knowledge.historyOperations.get(id)))
      ? hipsOfSide(sideOf(resource, knowledge.laterality, knowledge.aliases), 'reduction-ordered')
      : [];
  });
}

/** Coders use the code for a native joint for a prosthesis too. */
const REDUCES: ReadonlySet<unknown> = new Set(['closed-reduction', 'native-reduction']);
