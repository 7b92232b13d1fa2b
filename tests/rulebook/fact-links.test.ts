import { describe, expect, it } from 'vitest';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import { shippedPack } from './shipped.js';

/** What is reported of the shipped rulebook with some members of one fact file in another form. */
function faults(path: string, members: Readonly<Record<string, unknown>>): readonly string[] {
  const files = shippedPack.files.map((file) =>
    file.path === path ? { ...file, content: { ...(file.content as object), ...members } } : file,
  );
  const built = buildRulebook({ files }, COMPUTATION_IDS);
  return built.ok
    ? []
    : built.issues
        .filter(({ file }) => file === path)
        .map((issue) => `${issue.path}: expected ${issue.expected}, found ${issue.found}`);
}

describe('a fact that is read off other facts', () => {
  it.each<[string, Readonly<Record<string, unknown>>, string]>([
    ['fusion-site-unclear', { of: 'nothing' }, 'of: expected a condition of a patient, found nothing'],
    [
      'fusion-site-unclear',
      { of: 'dementia' },
      'of: expected a condition that codes can leave unclear, found dementia',
    ],
    ['stale-length-measures', { of: ['dementia'] }, 'of: expected a measure that is defined, found dementia'],
    [
      'stale-posture-measures',
      { changedBy: [{ condition: 'app-tilt-standing' }] },
      'changedBy: expected a condition that is defined, found app-tilt-standing',
    ],
    [
      'stale-posture-measures',
      { olderThan: { parameter: 'leg-length-difference-limit' } },
      'olderThan: expected a parameter that is one number of months, found leg-length-difference-limit',
    ],
    [
      'native-code-after-replacement',
      { of: ['dementia'] },
      'of: expected a condition of a hip, found dementia',
    ],
    [
      'replacement-in-place',
      { cupImplants: ['no-such-set'] },
      'cupImplants: expected a file in value-sets/, found no-such-set',
    ],
    ['cup-version-sign', { of: 'dementia' }, 'of: expected a measure that is defined, found dementia'],
  ])('names in %s, with %j, what it can be read off', (id, members, expected) => {
    expect(faults(`facts/${id}.json`, members)).toContain(expected);
  });
});
