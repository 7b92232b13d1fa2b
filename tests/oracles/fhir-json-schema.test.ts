import { describe, expect, it } from 'vitest';
import { schemaIssues } from './fhir-json-schema.js';

const plan = {
  resourceType: 'PlanDefinition',
  id: 'one',
  status: 'draft',
  action: [{ trigger: [{ type: 'named-event', name: 'order-sign' }] }],
};

describe("HL7's JSON Schema of R4", () => {
  it('has nothing against a valid resource, alone, contained or in a Bundle', () => {
    expect(schemaIssues(plan)).toEqual([]);
    expect(schemaIssues({ ...plan, contained: [plan] })).toEqual([]);
    expect(schemaIssues({ resourceType: 'Bundle', type: 'collection', entry: [{ resource: plan }] })).toEqual(
      [],
    );
  });

  it.each<[string, object]>([
    ['a member R4 does not have', { ...plan, speed: 1 }],
    ['a number where a text belongs', { ...plan, title: 7 }],
    ['a list where one value belongs', { ...plan, title: ['a'] }],
    ['a code outside a required list', { ...plan, status: 'finished' }],
    ['such a code deep inside', { ...plan, action: [{ trigger: [{ type: 'whenever' }] }] }],
    ['an id with a blank', { ...plan, id: 'a b' }],
    ['a fault in a contained resource', { ...plan, contained: [{ ...plan, speed: 1 }] }],
    [
      'a fault in a Bundle',
      { resourceType: 'Bundle', type: 'collection', entry: [{ resource: { ...plan, status: 'x' } }] },
    ],
    ['a resource that R4 does not know', { resourceType: 'Citation' }],
  ])('reports %s', (_, resource) => {
    expect(schemaIssues(resource).length).toBeGreaterThan(0);
  });
});

describe('the language of an expression', () => {
  const withLanguage = (language: string, more: object = {}): object => ({
    ...plan,
    action: [{ condition: [{ kind: 'applicability', expression: { language, expression: 'x', ...more } }] }],
  });

  // Truth: Expression.language in R4 is bound extensibly to expression-language.
  it('may be one of another list, as R4 has it', () => {
    expect(schemaIssues(withLanguage('application/vnd.example+json'))).toEqual([]);
  });

  it('does not hide another fault beside it', () => {
    expect(schemaIssues(withLanguage('application/vnd.example+json', { speed: 1 }))).toHaveLength(1);
  });
});
