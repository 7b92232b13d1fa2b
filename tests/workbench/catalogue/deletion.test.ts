import { describe, expect, it } from 'vitest';
import { newAdvisor } from '../../../src/advice/index.js';
import { asDecide, compileDecide } from '../../../src/engine/compiled-decide.js';
import { COMPUTATIONS } from '../../../src/engine/computations.js';
import type { Rulebook } from '../../../src/rulebook/types.js';
import { runCase } from '../../../src/workbench/trial/run-case.js';
import type { TrialSetting } from '../../../src/workbench/trial/run-case.js';
import type { TrialCase } from '../../../src/workbench/trial/trial-case.js';
import { patientsAndEdges, reviewed, shipped } from '../shipped-cases.js';

function settingOf(rulebook: Rulebook): TrialSetting {
  const decide = asDecide(compileDecide(rulebook.rules));
  return { advisor: newAdvisor(rulebook, COMPUTATIONS, decide), engine: '0.1.0' };
}

const setting = settingOf(shipped);

/** Cases in which this rule must fire. */
function firingCases(rule: string): readonly TrialCase[] {
  return patientsAndEdges.filter(({ expects }) =>
    expects.kind === 'outcome'
      ? expects.rule === rule && expects.outcome === 'fires'
      : expects.kind === 'cards' && expects.cards.some((card) => card.rule === rule),
  );
}

interface Said {
  readonly rule: string;
  readonly detail: string;
}

/** Everything told in one case, on cards and on the page. */
async function saidIn(trial: TrialCase, using: TrialSetting): Promise<readonly Said[]> {
  const { answer } = await runCase(trial, using);
  if (!answer) return [];
  return [
    ...answer.cards.map(({ source, detail }) => ({ rule: source.topic.code, detail })),
    ...(answer.pageOnly?.().cards ?? []).map(({ rule, card }) => ({ rule, detail: card.detail })),
  ];
}

/** What a card says was found, piece by piece. */
function piecesOf({ detail }: Said): readonly string[] {
  const [, found = ''] = /^\*\*Found\*\* (.*)\.$/m.exec(detail) ?? [];
  return found.split('; ');
}

/** Whether, in this case, something would be gone without the rule: a piece that nobody else tells. */
async function isMissed(rule: string, trial: TrialCase, using: TrialSetting): Promise<boolean> {
  const said = await saidIn(trial, using);
  const others = said.filter((one) => one.rule !== rule).map(({ detail }) => detail);
  return said
    .filter((one) => one.rule === rule)
    .flatMap(piecesOf)
    .some((piece) => !others.some((detail) => detail.includes(piece)));
}

async function caseThatMisses(rule: string, using: TrialSetting = setting): Promise<string | undefined> {
  for (const trial of firingCases(rule)) if (await isMissed(rule, trial, using)) return trial.name;
  return undefined;
}

/** Fires only where a resource names another patient, which no test patient can hold; the server's tests show it. */
const SHOWN_ELSEWHERE: readonly string[] = ['other-patient-record'];

describe('deleting a rule', () => {
  it.each(shipped.rules.map(({ id }) => id).filter((id) => !SHOWN_ELSEWHERE.includes(id)))(
    'called %s loses something that no other rule says',
    async (id) => {
      expect(await caseThatMisses(id)).toBeDefined();
    },
  );

  it('is excused for no rule', () => {
    expect(reviewed.map(({ id }) => id).filter((id) => id.startsWith('rule: '))).toEqual([]);
  });

  it('loses nothing where another rule says the same: a planted twin is found', async () => {
    const rule = shipped.rules.find(({ id }) => id === 'global-offset-loss');
    if (!rule) throw new Error('no such rule');
    const twins = settingOf({ ...shipped, rules: [...shipped.rules, { ...rule, id: 'twin' }] });
    expect(await caseThatMisses(rule.id)).toBeDefined();
    expect(await caseThatMisses(rule.id, twins)).toBeUndefined();
  });
});
