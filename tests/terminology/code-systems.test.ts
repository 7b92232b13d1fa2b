import { describe, expect, it } from 'vitest';
import { icd, read } from './terminology-files.js';

interface CodeSystem {
  readonly resourceType: string;
  readonly id: string;
  readonly url: string;
  readonly caseSensitive: boolean;
  readonly content: string;
  readonly count: number;
  readonly concept: readonly {
    readonly code: string;
    readonly display: string;
    readonly definition?: string;
    readonly property?: readonly { readonly code: string; readonly valueCode: string }[];
  }[];
}

describe('code systems of the project', () => {
  const ids = ['hip-measure', 'hip-measure-value', 'measure-group', 'measure-stage', 'hip-diagnosis'];
  const systems = ids.map((id) => read('rules', 'code-systems', `${id}.json`) as CodeSystem);

  it('are complete and case sensitive, with address and count in step', () => {
    systems.forEach((system, index) => {
      expect(system).toMatchObject({
        resourceType: 'CodeSystem',
        id: ids[index],
        caseSensitive: true,
        content: 'complete',
      });
      expect(system.url).toBe(`https://kotyle.example/fhir/CodeSystem/${system.id}`);
      expect(system.count).toBe(system.concept.length);
    });
  });

  it('give every code a display and no code twice', () => {
    for (const system of systems) {
      expect(new Set(system.concept.map(({ code }) => code)).size).toBe(system.concept.length);
      for (const { code, display } of system.concept) expect(display, code).toMatch(/^[A-Z]/);
    }
  });

  it('define 72 measures and the five components that qualify them', () => {
    const kinds = (kind: string) =>
      systems[0]?.concept.filter(({ property }) => property?.some(({ valueCode }) => valueCode === kind));
    expect(kinds('measure')).toHaveLength(72);
    expect(kinds('component')?.map(({ code }) => code)).toEqual([
      'angle-definition',
      'reference-plane',
      'method',
      'version-sign-confirmed',
      'version-reference',
    ]);
    for (const { code, definition } of systems[0]?.concept ?? []) expect(definition, code).toMatch(/\.$/);
  });

  it('name four stages and one group', () => {
    expect(systems[3]?.concept.map(({ code }) => code)).toEqual([
      'native',
      'planned',
      'intraoperative',
      'postoperative',
    ]);
    expect(systems[2]?.concept.map(({ code }) => code)).toEqual(['hip-stability']);
  });

  it('accept each other address of a system once, and never a canonical one', () => {
    const aliases = read('rules', 'code-systems', 'aliases.json') as Record<string, readonly string[]>;
    expect(aliases[icd]).toEqual([
      'http://terminology.hl7.org/CodeSystem/icd10CM',
      'urn:oid:2.16.840.1.113883.6.90',
    ]);
    expect(aliases['http://www.cms.gov/Medicare/Coding/ICD10']).toEqual([
      'http://terminology.hl7.org/CodeSystem/icd10PCS',
      'urn:oid:2.16.840.1.113883.6.4',
    ]);
    const others = Object.values(aliases).flat();
    expect(new Set(others).size).toBe(others.length);
    for (const other of others) expect(Object.keys(aliases)).not.toContain(other);
  });
});
