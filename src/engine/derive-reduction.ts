import { readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import type { ConstructKind } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import { absentFact, exactNumber, unknownFact } from '../facts/fact.js';

type Facts = ReadonlyMap<string, Fact>;

const FILM = 'head-eccentric-after-reduction';

/**
 * Where the head of the replacement in place lies after its last closed reduction, and whether a film has shown it. A
 * film from before that reduction, or from before the last operation on the hip, shows another state.
 */
export function reductionFacts(facts: Facts, construct: ConstructKind): readonly Fact[] {
  const [head, film] = ['head-after-reduction', 'reduction-film'] as const;
  if (construct !== 'in-place') return [absentFact(head), absentFact(film)];
  const shown = facts.get(FILM) ?? unknownFact(FILM, 'not-recorded');
  const since = [latestOf(facts.get('earlier-hip-replacement')), lastReductionOf(facts)];
  const isOld = since.some((span) => isBefore(latestOf(shown), span));
  return [headFact(head, shown, isOld), filmFact(film, facts, shown.state.status === 'present' && !isOld)];
}

function headFact(id: string, shown: Fact, isOld: boolean): Fact {
  const { state, provenance } = shown;
  if (state.status !== 'present' || state.value.kind !== 'flag')
    return { ...shown, id, state: { status: 'unknown', reason: reasonOf(shown), needs: [FILM] } };
  if (isOld) return { ...unknownFact(id, 'stale', { provenance }), state: stale };
  const codes = [state.value.flag ? 'eccentric' : 'centered'];
  return { id, state: { status: 'present', value: { kind: 'code', codes } }, provenance, remarks: [] };
}

const stale = { status: 'unknown', reason: 'stale', needs: [FILM] } as const;

function reasonOf({ state }: Fact): 'not-recorded' | 'side-unknown' | 'refused' | 'conflicting' {
  const reason = state.status === 'unknown' ? state.reason : 'not-recorded';
  return reason === 'side-unknown' || reason === 'refused' || reason === 'conflicting'
    ? reason
    : 'not-recorded';
}

/** Reductions of an earlier replacement of the hip are its history and ask for no film today. */
function filmFact(id: string, facts: Facts, isRead: boolean): Fact {
  const reductions = ['reduced-dislocations', 'closed-reduction-of-prosthesis'].flatMap(
    (one) => facts.get(one) ?? [],
  );
  const from = reductions.flatMap((one) => one.provenance.from);
  const date = reductions.map(lastDateOf).find((one) => one !== undefined);
  const provenance = { from: [...new Set(from)].sort(), ...(date !== undefined && { date }) };
  const code = (code: string): Fact => ({
    id,
    state: { status: 'present', value: { kind: 'code', codes: [code] } },
    provenance,
    remarks: [],
  });
  if (isRead) return code('read');
  const last = lastReductionOf(facts);
  const replaced = facts.get('earlier-hip-replacement');
  if (last) return code(isBefore(last, latestOf(replaced)) ? 'none' : 'not-read');
  const unread = [...reductions, ...(replaced ? [replaced] : [])].find(
    ({ state }) => state.status === 'unknown',
  );
  if (unread) return { ...unread, id };
  // A reduction without a date may be of the joint before the operation on record.
  const isUndated = facts.get('closed-reduction-of-prosthesis')?.state.status === 'present';
  if (isUndated && replaced?.state.status === 'present')
    return unknownFact(id, 'input-missing', { provenance });
  return code(isUndated ? 'not-read' : 'none');
}

function lastReductionOf(facts: Facts): Span | undefined {
  const counted = facts.get('reduced-dislocations');
  const dated = (exactNumber(counted) ?? 0) > 0 ? latestOf(counted) : undefined;
  return dated ?? latestOf(facts.get('closed-reduction-of-prosthesis'));
}

function latestOf(fact: Fact | undefined): Span | undefined {
  return fact?.state.status === 'present' ? readFhirDate(lastDateOf(fact)) : undefined;
}

function lastDateOf({ provenance }: Fact): string | undefined {
  return provenance.lastDate ?? provenance.date;
}

function isBefore(span: Span | undefined, other: Span | undefined): boolean {
  return span !== undefined && other !== undefined && span.to < other.from;
}
