import { describe, expect, it } from 'vitest';
import { newAdvisor } from '../../../src/advice/index.js';
import { runTrial } from '../../../src/workbench/trial/trial.js';
import type { Trial } from '../../../src/workbench/trial/trial.js';
import type { TrialCase } from '../../../src/workbench/trial/trial-case.js';
import { trialText, uncovered } from '../../../src/workbench/trial/trial-text.js';
import { changedRulebook, patientsAndEdges, setting, shipped, sources } from '../shipped-cases.js';

function run(cases: readonly TrialCase[]): Promise<Trial> {
  return runTrial({ cases, sources, setting, over: 'a test' });
}

const named = (name: string, hook = 'order-sign'): TrialCase => {
  const found = patientsAndEdges.find((one) => one.name === name && one.hook === hook);
  if (!found) throw new Error(`no case ${name}`);
  return found;
};

const STEEP = { rule: 'cup-inclination-outside-published', hip: 'left', indicator: 'warning' } as const;

describe('the shipped test patients and edge cases', () => {
  it('are all kept, and show every finding, every outcome, and every edge of every limit that can be met', async () => {
    const trial = await run(patientsAndEdges);
    expect(trial.failures.map(({ patient, hook }) => `${patient} at ${hook}`)).toEqual([]);
    expect(trial.passed).toBe(trial.patients);
    expect(trial.calls).toBe(patientsAndEdges.length);
    expect(trial.coverage.rows.map(({ rule }) => rule)).toEqual(shipped.rules.map(({ id }) => id));
    expect(uncovered(trial)).toEqual([
      // What turns, shifts or stands up is never less than nothing.
      'advisories/design/face-changing-liner.json when.any[1]: rim-turn above 0 deg: no value clearly-below, just-below',
      'advisories/design/lateralized-liner.json when.any[1]: liner-lateralization above 0 mm: no value clearly-below, just-below',
      // A sum is only above every range where the cup is known, and range is only lost where cup and stem are.
      'advisories/placement/combined-anteversion-outside-published.json findings[4].where.all[0]: cup-anteversion above 20 deg: no value unknown',
      'advisories/placement/combined-anteversion-outside-published.json findings[5].where: cup-anteversion above 20 deg: no value unknown',
      // Shares of placements are told in whole percent.
      'advisories/placement/placement-tolerance.json when: placement-tolerance-loss above 0 %: no value just-below, just-above',
      // Changes of a model's force are told in whole percent; where one is not known the rule does not fire.
      'advisories/tension/lever-arm-and-joint-force.json when.any[0]: abductor-force-change-high above 0 %: no value just-below, just-above',
      'advisories/tension/lever-arm-and-joint-force.json when.any[1]: abductor-force-change below 0 %: no value just-below, just-above',
      'advisories/tension/lever-arm-and-joint-force.json findings[0].where: abductor-force-change above 0 %: no value just-below, just-above, unknown',
      // What stays in a hip was measured: its edges are those of the band, which are all met.
      'conditions/cause-cup-retained.json when.all[1].any[0]: cup-inclination clearly-above 58 deg: no value just-below, at, just-above',
      'conditions/cause-cup-retained.json when.all[1].any[1]: cup-inclination clearly-below 30 deg: no value just-below, at, just-above',
      'conditions/cause-cup-retained.json when.all[1].any[2]: cup-anteversion clearly-above 34 deg: no value just-below, at, just-above',
      'conditions/cause-cup-retained.json when.all[1].any[3]: cup-anteversion-signed clearly-below 5 deg: no value just-below, at, just-above',
      // No rim is lowered; a loss of range is no whole number; contact as below.
      'conditions/cause-impingement.json when.any[0].all[0]: rim-elevation at-most 0 deg: no value clearly-below, just-below',
      'conditions/cause-impingement.json when.any[0].all[1]: impingement-margin-loss clearly-above (measured) 5 deg: no value at',
      'conditions/cause-impingement.json when.any[0].all[2]: contact-at-loss below 180 deg: no value just-below, at, just-above',
      'conditions/cause-impingement.json when.any[1].all[0]: rim-elevation at-most 0 deg: no value clearly-below, just-below',
      'conditions/cause-impingement.json when.any[1].all[1]: impingement-margin-loss clearly-above (measured) 5 deg: no value at',
      'conditions/cause-impingement.json when.any[1].all[2].not: contact-at-loss below 180 deg: no value just-below, at, just-above',
      'conditions/cause-impingement.json when.any[2].all[0]: rim-elevation above 0 deg: no value clearly-below, just-below',
      'conditions/cause-impingement.json when.any[3].all[0]: rim-elevation above 0 deg: no value clearly-below, just-below',
      'conditions/cause-stem-retained.json when.all[1].any[0]: stem-anteversion-condylar clearly-below 5 deg: no value just-below, just-above',
      // Offset is only lost where the move of the center is known.
      'conditions/center-moved-medially.json when: hip-center-medialization above 0 mm: no value unknown',
      // Where the neck meets the rim is in front or behind; below and above the socket it has no reason to.
      'conditions/contact-in-front.json when: contact-at-loss below 180 deg: no value just-below, at, just-above, unknown',
      'conditions/cup-version-above-reference.json when: cup-anteversion above 20 deg: no value unknown',
      'conditions/cup-version-below-reference.json when: cup-anteversion below 20 deg: no value unknown',
      'conditions/elevated-rim.json when.any[1]: rim-elevation above 0 deg: no value clearly-below, just-below',
      'conditions/stem-version-above-reference.json when: stem-anteversion-modelled above 15 deg: no value unknown',
    ]);
  }, 60_000);

  it('are told in full: every comparison with a limit in the files has its rows', async () => {
    const { thresholds } = await run([named('textbook-hip')]);
    const inFiles =
      JSON.stringify([sources.rules, [...sources.named.values()]]).match(/"value":\{"parameter"/g) ?? [];
    const places = thresholds.map(({ file, path }) => `${file} ${path}`);
    expect(new Set(places).size).toBe(inFiles.length);
  });
});

describe('a card that should have come', () => {
  it('is told by the comparison that stands in its way, with the value found and the limit', async () => {
    const trial = await run([{ ...named('textbook-hip'), expects: { kind: 'cards', cards: [STEEP] } }]);
    const [failure] = trial.failures;
    expect(failure).toMatchObject({
      patient: 'textbook-hip',
      hook: 'order-sign',
      missing: [STEEP],
      unexpected: [],
    });
    expect(failure?.differences).toEqual([
      {
        rule: STEEP.rule,
        hip: 'left',
        construct: 'planned',
        path: '',
        expected: 'a card (warning)',
        found: 'does-not-fire',
      },
      {
        rule: STEEP.rule,
        hip: 'left',
        construct: 'planned',
        path: 'when.any[0]',
        expected: 'cup-inclination clearly-above 58 deg (cup-inclination-published-high) to be true',
        found: '40 deg',
      },
      {
        rule: STEEP.rule,
        hip: 'left',
        construct: 'planned',
        path: 'when.any[1]',
        expected: 'cup-inclination clearly-below 30 deg (cup-inclination-published-low) to be true',
        found: '40 deg',
      },
    ]);
    expect(failure?.trees).toMatchObject([
      { rule: STEEP.rule, outcome: 'does-not-fire', when: { kind: 'any', truth: 'false' } },
    ]);
    expect(trial).toMatchObject({ patients: 1, passed: 0 });
    expect(trialText(trial)).toContain('at when.any[0]: expected cup-inclination clearly-above 58 deg');
  });

  it('is told by what is not known, where that is what stands in its way', async () => {
    const card = { rule: 'global-offset-loss', hip: 'left', indicator: 'info' } as const;
    const { failures } = await run([{ ...named('textbook-hip'), expects: { kind: 'cards', cards: [card] } }]);
    expect(failures[0]?.differences[1]?.found).toMatch(
      /^not known \(input-missing: .*global-offset-difference/,
    );
  });

  it('is told apart from one that came for another hip, or that no hip was looked at for', async () => {
    const other = { ...STEEP, hip: 'right' } as const;
    const { failures } = await run([
      { ...named('steep-cup-large-head'), expects: { kind: 'cards', cards: [other] } },
    ]);
    expect(failures[0]?.differences[0]).toMatchObject({
      expected: `${STEEP.rule} to be judged for this hip`,
      found: 'only left planned',
    });
    expect(failures[0]?.unexpected).toEqual([STEEP]);
  });
});

describe('a card that should not have come', () => {
  it('is told by the comparison that made it come', async () => {
    const { failures } = await run([
      { ...named('steep-cup-large-head'), expects: { kind: 'cards', cards: [] } },
    ]);
    expect(failures[0]).toMatchObject({ missing: [], unexpected: [STEEP] });
    expect(failures[0]?.differences).toEqual([
      {
        rule: STEEP.rule,
        hip: 'left',
        construct: 'planned',
        path: '',
        expected: 'no card',
        found: 'fires, warning',
      },
      {
        rule: STEEP.rule,
        hip: 'left',
        construct: 'planned',
        path: 'when.any[0]',
        expected: 'cup-inclination clearly-above 58 deg (cup-inclination-published-high) to be false',
        found: '60 deg',
      },
    ]);
  });
});

describe('an outcome that is another', () => {
  const edge = named('edges/cup-inclination-outside-published 1.1');

  it('is told with the comparisons between the two', async () => {
    if (edge.expects.kind !== 'outcome') throw new Error('no outcome');
    const { failures } = await run([{ ...edge, expects: { ...edge.expects, outcome: 'fires' } }]);
    expect(failures[0]?.differences.map(({ path, found }) => [path, found])).toEqual([
      ['', 'does-not-fire'],
      ['when.any[0]', '58 deg'],
      ['when.any[1]', '58 deg'],
    ]);
  });

  it('is told with the words of the card, where those are what differ', async () => {
    const fires = named('edges/cup-inclination-outside-published 4.1');
    if (fires.expects.kind !== 'outcome') throw new Error('no outcome');
    const wrong = { ...fires.expects, says: ['a smaller head'], never: ['no change'] };
    const { failures } = await run([{ ...fires, expects: wrong }]);
    expect(failures[0]?.differences.map(({ expected }) => expected)).toEqual([
      'the card to say "a smaller head"',
      'the card not to say "no change"',
    ]);
  });

  it('needs to name the hip where several are looked at', async () => {
    const { failures } = await run([
      {
        ...named('cup-on-plan', 'patient-view'),
        expects: {
          kind: 'outcome',
          rule: 'cup-off-plan',
          outcome: 'does-not-fire',
          hip: 'left',
          says: [],
          never: [],
        },
      },
    ]);
    expect(failures[0]?.why).toBe(
      'expected one hip and construct to look at, found none: name hip or construct',
    );
  });
});

describe('coverage of a limit', () => {
  const row = (trial: Trial, banded: boolean) =>
    trial.thresholds.find(
      ({ file, path, banded: with_ }) =>
        file.endsWith('cup-inclination-outside-published.json') && path === 'when.any[0]' && with_ === banded,
    );
  const covered = (trial: Trial, banded: boolean) =>
    row(trial, banded)?.edges.flatMap((edge) => (edge.covered ? [edge.edge] : []));

  it('tells a plan at the limit, one a step beside it, and one far from it', async () => {
    expect(covered(await run([named('edges/cup-inclination-outside-published 1.1')]), false)).toEqual(['at']);
    expect(covered(await run([named('edges/cup-inclination-outside-published 1.2')]), false)).toEqual([
      'just-above',
    ]);
    expect(covered(await run([named('edges/cup-inclination-outside-published 1.3')]), false)).toEqual([
      'just-below',
    ]);
    expect(covered(await run([named('textbook-hip')]), false)).toEqual(['clearly-below']);
    expect(covered(await run([named('steep-cup-large-head')]), false)).toEqual(['clearly-above']);
  });

  it('takes the edge of the band for the limit where a value was measured', async () => {
    const at = await run([named('edges/cup-inclination-outside-published 2.1', 'patient-view')]);
    expect(covered(at, true)).toEqual(['at']);
    expect(covered(at, false)).toEqual([]);
  });

  it('names whom a comparison could not be made for', async () => {
    const trial = await run([named('edges/cup-inclination-outside-published 1.7')]);
    expect(row(trial, false)?.unknown).toEqual(['edges/cup-inclination-outside-published 1.7']);
    expect(covered(trial, false)).toEqual([]);
  });

  it('is not claimed for a hip the rule does not apply to', async () => {
    const { thresholds } = await run([named('worn-liner-at-the-limits', 'patient-view')]);
    const loss = thresholds.find(({ rule }) => rule === 'global-offset-loss');
    expect(loss?.unknown).toEqual([]);
    expect(loss?.edges.some((edge) => edge.covered)).toBe(false);
  });
});

describe('a rule that was changed', () => {
  it('fails the patients that show what it was', async () => {
    const { rulebook, sources: changedSources } = changedRulebook((path, content) => {
      if (path !== 'advisories/placement/global-offset-loss.json') return content;
      const rule = content as { readonly when: object };
      return { ...rule, when: { ...rule.when, operator: 'at-most' } };
    });
    const trial = await runTrial({
      cases: patientsAndEdges.filter(
        ({ name }) => name === 'offset-at-limit' || name.startsWith('edges/global-offset'),
      ),
      sources: changedSources,
      setting: { advisor: newAdvisor(rulebook), engine: '0.1.0' },
      over: 'a test',
    });
    expect(trial.failures.map(({ patient }) => patient)).toContain('edges/global-offset-loss 1.1');
    expect(trial.failures.map(({ patient }) => patient)).toContain('offset-at-limit');
  });
});
