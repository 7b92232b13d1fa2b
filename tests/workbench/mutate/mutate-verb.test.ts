import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { PATIENTS } from '../../advice/patients.js';
import { kotyle } from '../../cli/kotyle-io.js';

const root = mkdtempSync(join(tmpdir(), 'kotyle-mutate-'));
afterAll(() => {
  rmSync(root, { recursive: true });
});

const one = join(root, 'patients');
cpSync(join(PATIENTS, 'offset-just-below-limit'), join(one, 'offset-just-below-limit'), { recursive: true });

describe('kotyle mutate', () => {
  it('ends with 0 where every change of a shipped rule is noticed', async () => {
    const { out, code } = await kotyle(['mutate', '--rule', 'global-offset-loss']);
    expect(code).toBe(0);
    expect(out).toContain('No unexplained survivor.');
    expect(out).toMatch(/2 +2 +0 {2}threshold/);
  });

  it('takes a named condition for a rule, and only the kinds asked for', async () => {
    const { out, code } = await kotyle(['mutate', '--rule', 'spine-stiff', '--only', 'branch', '--json']);
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({
      counts: [{ kind: 'branch', made: 3, noticed: 3 }],
      survivors: [],
    });
  });

  it('ends with 1 and names file, place and change that a site’s own patients would not notice', async () => {
    const { out, code } = await kotyle([
      'mutate',
      one,
      '--rule',
      'global-offset-loss',
      '--only',
      'threshold',
      'operator',
    ]);
    expect(code).toBe(1);
    expect(out).toContain(
      'advisories/placement/global-offset-loss.json at when.operator: projected-global-offset-difference below → at-most',
    );
    expect(out).toContain('Add a test patient or edge case for each, or a reviewed reason.');
  });

  it('takes reasons from a list, and names those whose change is noticed', async () => {
    const given = (id: string) => ({
      id,
      reason: 'for a test of the list itself',
      date: '2026-11-24',
      reviewer: 'tester',
    });
    const survivors = join(root, 'survivors.json');
    const prefix =
      'operator: advisories/placement/global-offset-loss.json when.operator: projected-global-offset-difference below →';
    writeFileSync(survivors, JSON.stringify({ survivors: [given(`${prefix} at-most`)] }));
    const args = [
      'mutate',
      one,
      '--rule',
      'global-offset-loss',
      '--only',
      'operator',
      '--survivors',
      survivors,
    ];
    expect((await kotyle(args)).code).toBe(0);
    writeFileSync(
      survivors,
      JSON.stringify({ survivors: [given(`${prefix} at-most`), given(`${prefix} above`)] }),
    );
    const stale = await kotyle(args);
    expect(stale.code).toBe(1);
    expect(stale.out).toContain(
      `Reviewed reasons without a survivor (1), to be taken out:\n  ${prefix} above`,
    );
  });

  it('tries nothing while a test patient fails, and says which', async () => {
    const failing = join(root, 'failing');
    cpSync(one, failing, { recursive: true });
    writeFileSync(
      join(failing, 'offset-just-below-limit', 'expected.json'),
      JSON.stringify({
        teaches: 'Nothing.',
        truth: 'clinician',
        now: '2026-11-24T10:00:00Z',
        cards: { 'order-sign': [] },
      }),
    );
    const { out, code } = await kotyle(['mutate', failing, '--rule', 'global-offset-loss']);
    expect(code).toBe(1);
    expect(out).toMatch(
      /^Nothing was mutated: .* do not keep 1 of the cases\.\n {2}offset-just-below-limit at order-sign/,
    );
  });

  it.each([
    [
      'an unknown rule',
      ['--rule', 'global-offset-los'],
      /--rule: expected the id of a rule or named condition, found global-offset-los/,
    ],
    [
      'an unknown kind of change',
      ['--only', 'wording'],
      /Allowed choices are threshold, operator, branch, finding, rule, code/,
    ],
    [
      'a folder that is not there',
      [join(root, 'nowhere')],
      /expected a folder of test patients, found nothing/,
    ],
    [
      'codes that are not there',
      ['--only', 'code', '--codes', join(root, 'codes.json')],
      /codes\.json: expected a JSON file, found nothing to read/,
    ],
  ])('ends with 2 on %s', async (_what, args, message) => {
    const { err, code } = await kotyle(['mutate', ...args]);
    expect(code).toBe(2);
    expect(err).toMatch(message);
  });
});
