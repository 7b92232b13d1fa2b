import { ACCEPTABLE, TOLERABLE, hazardLogSchema, riskOf } from '../../rulebook/hazard-schema.js';
import type { Hazard, HazardLog } from '../../rulebook/hazard-schema.js';
import { parseFile } from '../../rulebook/parse.js';

/** Where the hazard log stands in a folder of rules. It is no part of the pack: no decision reads it. */
export const HAZARD_FILE = 'hazards.json';

/** Something wrong in the hazard log. */
export interface HazardFault {
  readonly path: string;
  readonly expected: string;
  readonly found: string;
}

type Report = (path: string, expected: string, found: string) => void;

/** What is wrong in a hazard log, whether or not it has the form of one. Whether its tests exist only a checkout can say. */
export function checkHazards(content: unknown): readonly HazardFault[] {
  const { parsed, issues } = parseFile({ path: HAZARD_FILE, content }, hazardLogSchema);
  if (!parsed) return issues.map(({ path, expected, found }) => ({ path, expected, found }));
  const faults: HazardFault[] = [];
  const report: Report = (path, expected, found) => faults.push({ path, expected, found });
  checkIds(parsed.value, report);
  for (const hazard of parsed.value.hazards) {
    checkRisks(hazard, report);
    checkControls(hazard, report);
    checkStatus(hazard, report);
  }
  return faults;
}

/** Every number up to the highest is a hazard or was one: none is used twice, and none disappears without a trace. */
function checkIds({ hazards, retired }: HazardLog, report: Report): void {
  const seen = new Set<string>();
  for (const [index, { id }] of hazards.entries()) {
    if (seen.has(id)) report(`hazards[${index}].id`, 'an id of its own', id);
    if (retired.includes(id)) report(`hazards[${index}].id`, 'an id that was never used', `${id}, retired`);
    seen.add(id);
  }
  const known = new Set([...seen, ...retired]);
  const highest = Math.max(...[...known].map((id) => Number(id.slice(3))));
  for (let number = 1; number <= highest; number++) {
    const id = `HZ-${String(number).padStart(2, '0')}`;
    if (!known.has(id)) report('hazards', `${id}, as a hazard or among the retired`, 'neither');
  }
}

function checkRisks({ id, before, after }: Hazard, report: Report): void {
  for (const [name, { severity, likelihood, risk }] of Object.entries({ before, after })) {
    const expected = riskOf(severity, likelihood);
    if (risk !== expected)
      report(
        `hazards.${id}.${name}.risk`,
        `${expected}, that of ${severity} and ${likelihood}`,
        String(risk),
      );
  }
  if (after.risk > before.risk)
    report(`hazards.${id}.after.risk`, `no more than before, ${before.risk}`, String(after.risk));
}

/** Information alone is the weakest control: it makes nothing acceptable that was not. */
function checkControls({ id, before, controls }: Hazard, report: Report): void {
  if (before.risk <= ACCEPTABLE) return;
  const isHeld = controls.some(({ kind, state }) => kind !== 'information' && state === 'tested');
  if (!isHeld)
    report(
      `hazards.${id}.controls`,
      'a tested control by design or protection, as the risk is not acceptable at first',
      controls.map(({ kind, state }) => `${kind}, ${state}`).join('; '),
    );
}

function checkStatus({ id, after, controls, status, remains }: Hazard, report: Report): void {
  const path = `hazards.${id}.status`;
  if (after.risk > TOLERABLE && status !== 'open')
    report(path, `open, as a risk of ${after.risk} remains`, status);
  if (status === 'controlled' && after.risk > ACCEPTABLE)
    report(path, `watched or open, as a risk of ${after.risk} remains`, status);
  if (status === 'controlled' && controls.some(({ state }) => state !== 'tested'))
    report(path, 'watched or open, as a control is planned or has no test', status);
  if ((remains === undefined) !== (status === 'controlled'))
    report(
      `hazards.${id}.remains`,
      status === 'controlled' ? 'nothing left where all is controlled' : 'what is left to do',
      remains ?? 'nothing',
    );
}
