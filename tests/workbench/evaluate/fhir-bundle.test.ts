import type { Bundle, FhirResource, GuidanceResponse, Parameters, RequestGroup } from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import { fhirBundle } from '../../../src/workbench/evaluate/fhir-bundle.js';
import { rulebook } from '../../advice/patients.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { evaluationNamed } from './evaluations.js';

const NAMES = ['demo-parkinson-steep-cup', 'nothing-known', 'staged-bilateral', 'impossible-and-conflicting'];

function resourcesOf({ entry = [] }: Bundle): readonly FhirResource[] {
  return entry.flatMap(({ resource }) => (resource ? [resource as FhirResource] : []));
}

function responses(bundle: Bundle): readonly GuidanceResponse[] {
  return resourcesOf(bundle).filter(
    (one): one is GuidanceResponse => one.resourceType === 'GuidanceResponse',
  );
}

function outcomeOf({ contained = [] }: GuidanceResponse): string | undefined {
  const output = contained.find((one): one is Parameters => one.resourceType === 'Parameters');
  return output?.parameter?.find(({ name }) => name === 'outcome')?.valueCode;
}

describe('an evaluation as FHIR', () => {
  it.each(NAMES)('is valid R4 for %s, by three readers', async (name) => {
    // Truth: two independent validators over HL7's own definitions.
    const { answers } = await evaluationNamed(name);
    expect(fhirIssues(fhirBundle(answers, rulebook))).toEqual([]);
  });

  it('has one response for each advisory, and a status that says whether it could be told', async () => {
    const { answers } = await evaluationNamed('demo-parkinson-steep-cup');
    const all = responses(fhirBundle(answers, rulebook));
    const advisories = answers.flatMap(({ answer }) => answer.hips.flatMap((hip) => hip.advisories));
    const own = all.filter((one) => one.moduleCanonical?.includes('/PlanDefinition/'));
    expect(own.map(outcomeOf).sort()).toEqual(advisories.map(({ outcome }) => outcome).sort());
    for (const one of own) {
      const isOpen = outcomeOf(one) === 'cannot-tell';
      expect(one.status).toBe(isOpen ? 'data-required' : 'success');
      expect(one.dataRequirement !== undefined).toBe(isOpen);
    }
  });

  it('asks for what is missing in the code of the measure', async () => {
    const { answers } = await evaluationNamed('demo-parkinson-steep-cup');
    const all = responses(fhirBundle(answers, rulebook));
    const open = all.find(({ moduleCanonical }) =>
      moduleCanonical?.includes('/PlanDefinition/abductor-loss|'),
    );
    expect(open?.dataRequirement).toEqual([
      {
        type: 'Observation',
        codeFilter: [
          {
            path: 'code',
            code: [
              {
                system: 'https://kotyle.example/fhir/CodeSystem/hip-measure',
                code: 'abductor-strength',
                display: 'abductor strength',
              },
            ],
          },
        ],
      },
    ]);
  });

  it('proposes, orders nothing, and is never urgent beyond what advice may be', async () => {
    for (const name of NAMES) {
      const { answers } = await evaluationNamed(name);
      const groups = resourcesOf(fhirBundle(answers, rulebook)).filter(
        (one): one is RequestGroup => one.resourceType === 'RequestGroup',
      );
      const cards = answers.flatMap(({ answer }) => answer.cards.map(({ summary }) => summary));
      expect(groups.flatMap(({ action = [] }) => action.map(({ title }) => title))).toEqual(cards);
      for (const group of groups) expect(proposalOf(group)).toEqual(['draft', 'proposal', []]);
    }
  });

  it('refers to nothing that is not in it, but for the patient', async () => {
    const { answers } = await evaluationNamed('staged-bilateral');
    const bundle = fhirBundle(answers, rulebook);
    const urls = new Set((bundle.entry ?? []).map(({ fullUrl }) => fullUrl));
    expect(urls.size).toBe(bundle.entry?.length);
    const references = [...JSON.stringify(bundle).matchAll(/"reference":"([^"]+)"/g)].map(
      ([, url]) => url ?? '',
    );
    const outside = references.filter((url) => !url.startsWith('#') && !urls.has(url));
    expect([...new Set(outside)]).toEqual(['Patient/staged-bilateral']);
  });
});

function proposalOf({ status, intent, action = [] }: RequestGroup): unknown {
  return [status, intent, action.filter(({ priority }) => priority === 'stat' || priority === 'asap')];
}
