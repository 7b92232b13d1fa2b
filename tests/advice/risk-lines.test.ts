import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { fiveLines } from '../render/cards.js';
import type { Answer } from './patients.js';
import { answerFor, mapEntries, measureCode, testPatient } from './patients.js';

const HOOKS = ['appointment-book', 'order-sign', 'patient-view'] as const;

const ruleOf = ({ cards }: Answer): readonly string[] => cards.map(({ source }) => source.topic.code);

function pageOf(answer: Answer): ReadonlyMap<string, string> {
  return new Map((answer.pageOnly?.().cards ?? []).map(({ rule, card }) => [rule, card.detail]));
}

/** The line beside the five, without what it begins with. */
function besideOf(answer: Answer, rule: string): string | undefined {
  const card = answer.cards.find(({ source }) => source.topic.code === rule);
  return card?.detail.split('\n\n').find((block) => /, changing no option: /.test(block));
}

/** A test patient with other members of the Patient. */
function person(name: string, members: JsonObject): JsonObject {
  return mapEntries(testPatient(name).bundle, (resource) =>
    resource['resourceType'] === 'Patient' ? { ...resource, ...members } : resource,
  );
}

/** A test patient with one measure changed. */
function measured(name: string, code: string, value: number): JsonObject {
  return mapEntries(testPatient(name).bundle, (resource) =>
    measureCode(resource) === code
      ? { ...resource, valueQuantity: { ...(resource['valueQuantity'] as JsonObject), value } }
      : resource,
  );
}

describe('what is worth a line and no card', () => {
  it('stays off every hook while nothing else is said, and stands on the page', async () => {
    // Truth: clinical decisions §1: age, body mass and depression are a line, never a card of its own.
    const { bundle } = testPatient('textbook-with-line-factors');
    for (const hook of HOOKS) expect((await answerFor(bundle, hook)).cards, hook).toEqual([]);
    const page = pageOf(await answerFor(bundle, 'order-sign'));
    expect([...page.keys()]).toEqual(expect.arrayContaining(['diagnoses-line', 'patient-factors-line']));
    expect(pageOf(await answerFor(bundle, 'appointment-book')).has('patient-factors-line')).toBe(false);
  });

  it('is named once on the first card of the hip, and leaves its five lines alone', async () => {
    const name = 'line-factors-beside-a-card';
    const rule = 'posterior-approach-without-repair';
    const answer = await answerFor(testPatient(name).bundle, 'order-sign');
    expect(ruleOf(answer)).toEqual([rule]);
    // Truth: closed form; born 30 September 1948, 78 full years on 24 November 2026.
    const beside = besideOf(answer, rule) ?? '';
    expect(beside).toMatch(/\bage 78\b.*\bbody mass index 18\.5 kg/);
    expect(beside).toContain('inflammatory arthritis');
    const younger = await answerFor(person(name, { birthDate: '1980-01-01' }), 'order-sign');
    expect(besideOf(younger, rule)).not.toMatch(/\bage\b/);
    expect(younger.cards.flatMap(fiveLines)).toEqual(answer.cards.flatMap(fiveLines));
  });

  it('shows where studies of age and of body mass disagree', async () => {
    // Truth: published audit, conflicts a card must show; records kunutsor2019-age70, hermansen2021-age65, gillinov2022-predictors.
    const page = pageOf(await answerFor(testPatient('line-factors-beside-a-card').bundle, 'order-sign')).get(
      'patient-factors-line',
    );
    expect(page).toMatch(/70 .*RR 1\.27 \(95 % CI 1\.02–1\.57\)/);
    expect(page).toMatch(/below 65 years: OR 0\.7 \(95 % CI 0\.59–0\.83\)/);
    expect(page).toMatch(/against it: in US claims those below 65 years and women dislocated more/);
    expect(page).toMatch(/below 20 .*no figure read/);
    expect(page).not.toContain('RR 1.38');
  });

  it('tells what not to rely on beside the work-up of an unstable hip, and offers no change there', async () => {
    // Truth: published, brace-after-reduction-dewal (61 and 64 %), brace-after-reduction-brennan (69 and 69 %).
    const answer = await answerFor(testPatient('dislocated-58-28').bundle, 'patient-view');
    const [first = ''] = ruleOf(answer);
    expect(besideOf(answer, first)).toMatch(/brace after reduction, Trendelenburg sign, AP film/);
    const page = pageOf(answer).get('what-not-to-rely-on') ?? '';
    expect(page).toMatch(/61 % dislocated again with it, 64 % without/);
    expect(page).toMatch(/69 % dislocated again with and without it/);
    expect(page).not.toContain('no change');
  });
});

describe('a supple hip through a posterior approach', () => {
  const sign = (bundle: JsonObject): Promise<Answer> => answerFor(bundle, 'order-sign');

  it('is told by the sum of flexion, adduction and internal rotation, from 115° on', async () => {
    // Truth: published, preop-high-motion-dislocation; closed form: 110 + 25 + 30 = 165 and 110 + 25 - 20 = 115.
    const { bundle } = testPatient('supple-hip-posterior');
    const [found = '', options = ''] = (await sign(bundle)).cards.flatMap(fiveLines);
    expect(found).toContain('flexion 110°, adduction 25°, internal rotation 30°: 165° in all');
    expect(options).toMatch(
      /no change · capsule and short-rotator repair.* · head size reviewed · approach reviewed/,
    );
    const rotated = (degrees: number): Promise<Answer> =>
      sign(measured('supple-hip-posterior', 'native-internal-rotation', degrees));
    expect(ruleOf(await rotated(-20))).toEqual(['supple-hip']);
    expect(ruleOf(await rotated(-21))).toEqual([]);
  });

  it('names its one figure without an interval, and says that none was printed', async () => {
    const [card] = (await sign(testPatient('supple-hip-posterior').bundle)).cards;
    expect(card?.detail).toMatch(/OR 1\.9, no interval printed, p 0\.007/);
    expect(card?.detail).toMatch(/head below 32 mm besides 5\.9 % dislocated/);
  });

  it('is not spoken of at booking', async () => {
    // Truth: clinical decisions §1: it is no trigger.
    expect((await answerFor(testPatient('supple-hip-posterior').bundle, 'appointment-book')).cards).toEqual(
      [],
    );
  });
});
