import type {
  Bundle,
  DetectedIssue,
  FhirResource,
  GuidanceResponse,
  OperationOutcome,
  Parameters,
  RequestGroup,
  RiskAssessment,
} from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import type { HookAnswer } from '../../../src/advice/evaluate-patient.js';
import { evaluationBundle } from '../../../src/render/fhir/evaluation-bundle.js';
import { NOW, rulebook } from '../../advice/patients.js';
import { schemaIssues } from '../../oracles/fhir-json-schema.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { evaluationNamed } from '../../workbench/evaluate/evaluations.js';

const NAMES = ['demo-parkinson-steep-cup', 'nothing-known', 'staged-bilateral', 'impossible-and-conflicting'];

async function answersOf(name: string): Promise<readonly HookAnswer[]> {
  return (await evaluationNamed(name)).answers;
}

function bundleOf(answers: readonly HookAnswer[]): Bundle {
  return evaluationBundle(answers, { rulebook, now: NOW });
}

function ofType<Type extends FhirResource['resourceType']>(
  { entry = [] }: Bundle,
  type: Type,
): readonly Extract<FhirResource, { resourceType: Type }>[] {
  return entry.flatMap(({ resource }) =>
    resource?.resourceType === type ? [resource as Extract<FhirResource, { resourceType: Type }>] : [],
  );
}

function evaluationIn({ contained = [] }: GuidanceResponse): Parameters {
  const found = contained.find((one): one is Parameters => one.resourceType === 'Parameters');
  if (!found) throw new Error('no evaluation');
  return found;
}

/** Rule and outcome of every advisory of a response. */
function outcomesIn(
  response: GuidanceResponse,
): readonly (readonly [string | undefined, string | undefined])[] {
  return (evaluationIn(response).parameter ?? [])
    .filter(({ name }) => name === 'advisory')
    .map(({ part = [] }) => [
      part.find(({ name }) => name === 'rule')?.valueCode,
      part.find(({ name }) => name === 'outcome')?.valueCode,
    ]);
}

describe('an evaluation as FHIR', () => {
  it.each(NAMES)('is valid R4 for %s, by three readers and the JSON Schema', async (name) => {
    // Truth: two independent validators over HL7's own definitions, and HL7's JSON Schema.
    const bundle = bundleOf(await answersOf(name));
    expect(fhirIssues(bundle)).toEqual([]);
    expect(schemaIssues(bundle)).toEqual([]);
  });

  it('has one response for each hip and occasion, which holds every advisory with its outcome', async () => {
    for (const name of NAMES) {
      const answers = await answersOf(name);
      const responses = ofType(bundleOf(answers), 'GuidanceResponse');
      const hips = answers.flatMap(({ answer }) => answer.hips);
      expect(responses.map(outcomesIn)).toEqual(
        hips.map(({ advisories }) => advisories.map(({ rule, outcome }) => [rule, outcome])),
      );
    }
  });

  it('asks for each missing fact once, under the name of the fact', async () => {
    const answers = await answersOf('demo-parkinson-steep-cup');
    for (const [index, response] of ofType(bundleOf(answers), 'GuidanceResponse').entries()) {
      const advisories = answers.flatMap(({ answer }) => answer.hips)[index]?.advisories ?? [];
      const needs = [...new Set(advisories.flatMap((advisory) => advisory.needs))].sort();
      expect((response.dataRequirement ?? []).map(({ id }) => id)).toEqual(needs);
      expect(response.status).toBe(needs.length > 0 ? 'data-requested' : 'success');
    }
  });

  it('asks for a measure by its code, and for a diagnosis by the pinned set of its codes', async () => {
    const [response] = ofType(bundleOf(await answersOf('nothing-known')), 'GuidanceResponse');
    const requirement = (fact: string) => response?.dataRequirement?.find(({ id }) => id === fact);
    expect(requirement('cup-inclination')).toEqual({
      id: 'cup-inclination',
      type: 'Observation',
      codeFilter: [
        {
          path: 'code',
          code: [
            {
              system: 'https://kotyle.example/fhir/CodeSystem/hip-measure',
              code: 'cup-inclination',
              display: rulebook.factById.get('cup-inclination')?.title,
            },
          ],
        },
      ],
    });
    for (const { codeFilter = [] } of response?.dataRequirement ?? [])
      for (const { valueSet } of codeFilter)
        if (valueSet !== undefined) expect(valueSet).toMatch(/\/ValueSet\/[a-z0-9-]+\|\d+\.\d+\.\d+$/);
  });

  it('names the engine as performer of everything it made', async () => {
    const bundle = bundleOf(await answersOf('impossible-and-conflicting'));
    for (const one of [...ofType(bundle, 'GuidanceResponse'), ...ofType(bundle, 'RiskAssessment')]) {
      expect(one.performer).toEqual({ reference: '#engine' });
      expect(one.contained?.[0]).toEqual({
        resourceType: 'Device',
        id: 'engine',
        deviceName: [{ name: 'Kotyle', type: 'model-name' }],
        version: [{ value: '0.1.0' }],
      });
    }
  });

  it('proposes, orders nothing, and is never urgent beyond what advice may be', async () => {
    for (const name of NAMES) {
      const answers = await answersOf(name);
      const groups = ofType(bundleOf(answers), 'RequestGroup');
      const cards = answers.flatMap(({ answer }) => answer.cards.map(({ summary }) => summary));
      expect(groups.flatMap(({ action = [] }) => action.map(({ title }) => title))).toEqual(cards);
      for (const group of groups) expect(proposalOf(group)).toEqual(['draft', 'proposal', []]);
    }
  });

  it('refers to nothing that is not in it, but for the record', async () => {
    for (const name of NAMES) {
      const answers = await answersOf(name);
      const bundle = bundleOf(answers);
      const urls = new Set((bundle.entry ?? []).map(({ fullUrl }) => fullUrl));
      expect(urls.size).toBe(bundle.entry?.length);
      const record = new Set(
        answers.flatMap(({ answer }) =>
          answer.record.resources.map(
            ({ resource }) => `${String(resource['resourceType'])}/${String(resource['id'])}`,
          ),
        ),
      );
      const references = [...JSON.stringify(bundle).matchAll(/"reference":"([^"#]+)"/g)].map(
        ([, url = '']) => url,
      );
      expect(references.filter((url) => !urls.has(url) && !record.has(url))).toEqual([]);
    }
  });
});

function proposalOf({ status, intent, action = [] }: RequestGroup): unknown {
  return [status, intent, action.filter(({ priority }) => priority === 'stat' || priority === 'asap')];
}

describe('what bears on the risk', () => {
  it('is named for each hip on which a clinical rule fires, without a probability or a grade', async () => {
    const clinical = new Set(rulebook.rules.filter(({ type }) => type === 'clinical').map(({ id }) => id));
    for (const name of NAMES) {
      const answers = await answersOf(name);
      const fired = answers
        .flatMap(({ answer }) => answer.hips)
        .map(({ advisories }) =>
          advisories.filter(({ rule, outcome }) => outcome === 'fires' && clinical.has(rule)),
        )
        .filter((advisories) => advisories.length > 0);
      const risks: readonly RiskAssessment[] = ofType(bundleOf(answers), 'RiskAssessment');
      expect(risks.map(({ prediction = [] }) => prediction.length)).toEqual(
        fired.map(({ length }) => length),
      );
      for (const { prediction = [] } of risks)
        for (const one of prediction) expect(Object.keys(one).sort()).toEqual(['outcome', 'rationale']);
    }
  });
});

describe('a contradiction of the record', () => {
  const issuesOf = async (name: string): Promise<readonly DetectedIssue[]> =>
    ofType(bundleOf(await answersOf(name)), 'DetectedIssue');

  it('is an issue with the resources that disagree, once for all occasions', async () => {
    const issues = await issuesOf('impossible-and-conflicting');
    const conflicting = issues.filter(({ code }) => code?.coding?.[0]?.code === 'conflicting');
    expect(conflicting.length).toBeGreaterThan(0);
    expect(new Set(issues.map(({ id }) => id)).size).toBe(issues.length);
    for (const { severity, implicated = [], detail } of conflicting) {
      expect(severity).toBe('moderate');
      expect(implicated.length).toBeGreaterThan(1);
      expect(detail).not.toBe('');
    }
  });

  it('about the side is grave, whatever the urgency of its card', async () => {
    const issues = await issuesOf('order-left-plan-right');
    expect(issues.map(({ severity }) => severity)).toContain('high');
  });

  it('is none where a value is only impossible: that is told among the notes', async () => {
    const bundle = bundleOf(await answersOf('impossible-and-conflicting'));
    const codes = ofType(bundle, 'DetectedIssue').map(({ code }) => code?.coding?.[0]?.code);
    expect(codes).not.toContain('implausible');
    const [notes]: readonly OperationOutcome[] = ofType(bundle, 'OperationOutcome');
    expect(notes?.issue.length).toBeGreaterThan(0);
    expect(notes?.issue.every(({ severity }) => severity === 'warning' || severity === 'information')).toBe(
      true,
    );
  });
});

describe('what is not told', () => {
  it('leaves out a rule, its card, and a hip of which nothing is left', async () => {
    const answers = await answersOf('demo-parkinson-steep-cup');
    const all = bundleOf(answers);
    const [card] = answers.flatMap(({ answer }) => answer.cards);
    const hushed = card?.source.topic.code ?? '';
    const some = evaluationBundle(answers, {
      rulebook,
      now: NOW,
      tells: () => (advisory) => advisory.rule !== hushed,
    });
    expect(JSON.stringify(all)).toContain(`"${hushed}"`);
    expect(JSON.stringify(some)).not.toContain(`"${hushed}"`);
    const none = evaluationBundle(answers, {
      rulebook,
      now: NOW,
      tells: () => () => false,
      remarks: ['Silent.'],
    });
    expect(none.entry?.map(({ resource }) => resource?.resourceType)).toEqual(['OperationOutcome']);
    expect(fhirIssues(none)).toEqual([]);
    expect(JSON.stringify(none)).toContain('Silent.');
  });
});
