import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { HOOKS_BY_NAME, inputsFromBundle } from '../../src/advice/hook-inputs.js';
import { cardNames, mapEntries, measureCode, testPatient, testPatients } from './patients.js';
import { MEASURES, northCampus } from '../facts/sites.js';
import { evaluationNamed, evaluationOf, setting } from '../workbench/evaluate/evaluations.js';

describe('evaluating a Bundle', () => {
  it('gives each test patient the cards written down for it, at every hook', async () => {
    // Truth: the expectations of the test patients, judged by clinicians or worked out by hand.
    for (const { name, bundle, expected } of testPatients()) {
      const using = { ...setting, now: expected.now };
      const { answers } = await evaluationOf(bundle, HOOKS_BY_NAME.all, using);
      for (const hook of HOOKS_BY_NAME.all) {
        const wanted = expected.cards[hook];
        if (!wanted) continue;
        const answer = answers.find((one) => one.hook === hook)?.answer;
        expect({ name, hook, cards: answer ? cardNames(answer) : [] }).toEqual({ name, hook, cards: wanted });
      }
    }
  });

  it('makes no call where nothing is booked or signed', () => {
    const bare = mapEntries(testPatient('textbook-hip').bundle, (resource) =>
      resource['resourceType'] === 'Appointment' || resource['resourceType'] === 'ServiceRequest'
        ? undefined
        : resource,
    );
    const hooks = inputsFromBundle(bare, HOOKS_BY_NAME.all, setting).map(({ service }) => service.hook);
    expect(hooks).toEqual(['patient-view']);
  });

  it('says which hooks were not about a hip', async () => {
    const { answers, silent } = await evaluationNamed('knee-replacement');
    expect({ answers, silent }).toEqual({
      answers: [],
      silent: ['appointment-book', 'order-sign', 'patient-view'],
    });
  });

  it('names its calls by what they are about, so that the same input has the same bytes', async () => {
    const texts = await Promise.all(
      [1, 2].map(async () => {
        const { answers } = await evaluationNamed('demo-parkinson-steep-cup');
        return JSON.stringify(answers.map(({ answer }) => [answer.evaluation(), answer.cards]));
      }),
    );
    expect(texts[0]).toBe(texts[1]);
  });
});

describe('evaluating with a site', () => {
  /** The steep cup of a test patient under a local code, without ours. */
  const localCup = (resource: JsonObject): JsonObject => {
    if (measureCode(resource) !== 'cup-inclination') return resource;
    const { component, category, ...rest } = resource;
    expect([component, category]).toContainEqual(expect.anything());
    return { ...rest, code: { coding: [{ system: MEASURES, code: 'CUP-INC' }] } };
  };
  const bundle = mapEntries(testPatient('steep-cup-large-head').bundle, localCup);
  const rulesAt = async (site: boolean): Promise<readonly string[]> => {
    const using = site ? { ...setting, site: northCampus } : setting;
    const { answers } = await evaluationOf(bundle, HOOKS_BY_NAME.order, using);
    return answers.flatMap(({ answer }) => answer.cards.map(({ source }) => source.topic.code));
  };

  it('reads observations under local codes, which mean nothing without it', async () => {
    expect(await rulesAt(false)).not.toContain('cup-inclination-outside-published');
    expect(await rulesAt(true)).toContain('cup-inclination-outside-published');
  });

  it('shows what any reader would see, whomever the site tells', async () => {
    // The site file tells the chart's cards to hip surgeons only.
    const { answers } = await evaluationOf(bundle, HOOKS_BY_NAME.chart, { ...setting, site: northCampus });
    expect(answers.flatMap(({ answer }) => answer.cards)).not.toEqual([]);
  });
});
