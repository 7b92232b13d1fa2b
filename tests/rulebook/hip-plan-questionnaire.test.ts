import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { readFileSync } from 'node:fs';
import { hipPlanQuestionnaire } from '../../src/rulebook/hip-plan-questionnaire.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { testApp } from '../server/test-service.js';
import { shipped } from './shipped.js';

interface Item {
  readonly linkId: string;
  readonly type: string;
  readonly text: string;
  readonly repeats?: boolean;
  readonly item?: readonly Item[];
  readonly code?: readonly { readonly system: string; readonly code: string }[];
  readonly answerOption?: readonly {
    readonly valueCoding: { readonly system: string; readonly code: string };
  }[];
  readonly extension?: readonly { readonly valueCoding: { readonly code: string } }[];
}

const questionnaire = hipPlanQuestionnaire(shipped) as unknown as { readonly item: readonly Item[] };
const group = questionnaire.item[0];
const items = group?.item ?? [];

/** The measures as the published code system has them; planned ones by the fact files' stages. */
const measures = shipped.facts.flatMap((fact) =>
  fact.kind === 'measure' && fact.scope === 'hip' && fact.stages.includes('planned') ? [fact] : [],
);

describe('the plan questionnaire', () => {
  it('is valid FHIR R4 by two independent readers', () => {
    expect(fhirIssues(questionnaire)).toEqual([]);
  });

  it('asks in one repeating group for the side, the two qualifiers of cup angles and every measure that can be planned', () => {
    // Truth: the project's integration decisions, section 3.
    expect(questionnaire.item.length).toBe(1);
    expect(group).toMatchObject({ linkId: 'hip', type: 'group', repeats: true });
    expect(items.map(({ linkId }) => linkId)).toEqual([
      'hip.side',
      'hip.angle-definition',
      'hip.reference-plane',
      ...measures.map(({ id }) => id),
    ]);
    expect(items.map(({ linkId }) => linkId)).not.toContain('hip-side');
    expect(items.map(({ linkId }) => linkId)).toContain('surgical-approach');
  });

  it('gives every quantity its UCUM unit, every choice the codes its measure may have, and says the sign in words', () => {
    for (const measure of measures) {
      const item = items.find(({ linkId }) => linkId === measure.id);
      expect(item?.code?.[0]).toMatchObject({ system: shipped.about.systems.measure, code: measure.id });
      if (measure.valueType === 'quantity')
        expect(item?.extension?.[0]?.valueCoding.code, measure.id).toBe(measure.unit);
      if (measure.valueType === 'code')
        expect(item?.answerOption?.map(({ valueCoding }) => valueCoding.code)).toEqual(measure.values);
      expect(item?.repeats === true).toBe(measure.repeats);
    }
    expect(items.find(({ linkId }) => linkId === 'cup-anteversion')?.text).toMatch(/retroversion negative/);
    expect(items.find(({ linkId }) => linkId === 'leg-length-change')?.text).toMatch(/longer/i);
  });

  it('is published under its canonical by the service, and the templates ask for that canonical', async () => {
    const reply = await request(testApp()).get('/fhir/Questionnaire/hip-plan');
    expect(reply.status).toBe(200);
    expect(reply.headers['content-type']).toMatch(/^application\/fhir\+json/);
    // Publishing adds what every resource of the endpoint has: a version id, purpose and licence.
    const { meta, purpose, copyright, ...asked } = JSON.parse(reply.text) as Record<string, unknown>;
    expect({ meta, purpose, copyright }).toEqual({
      meta: { versionId: expect.stringMatching(/^[0-9a-f]{16}$/) as unknown },
      purpose: expect.any(String) as unknown,
      copyright: expect.stringContaining('Apache') as unknown,
    });
    expect(asked).toEqual(JSON.parse(JSON.stringify(questionnaire)));
    expect(JSON.parse(reply.text)).toMatchObject({
      url: 'https://kotyle.example/fhir/Questionnaire/hip-plan',
      status: 'draft',
      experimental: true,
    });
    expect((await request(testApp()).post('/fhir/Questionnaire/hip-plan')).status).toBe(405);
  });

  it('names the override reasons of a code system that is published with it', () => {
    const system = JSON.parse(
      readFileSync(new URL('../../rules/code-systems/override-reason.json', import.meta.url), 'utf8'),
    ) as { readonly url: string; readonly concept: readonly { readonly code: string }[] };
    const offered = [...shipped.about.answers.planning.reasons, ...shipped.about.answers.check.reasons];
    expect(system.url).toBe(shipped.about.systems.overrideReason);
    expect(new Set(offered.map(({ code }) => code))).toEqual(new Set(system.concept.map(({ code }) => code)));
  });
});
