import { describe, expect, it } from 'vitest';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { shippedPack } from './shipped.js';

// Truth: two independent R4 validators (@medplum/core and fhir), and our own checks of what neither sees.
describe('knowledge kept as FHIR R4', () => {
  const resources = shippedPack.files.flatMap(({ path, content }) =>
    typeof content === 'object' && content !== null && 'resourceType' in content ? [{ path, content }] : [],
  );

  it('is there: value sets and code systems', () => {
    expect(resources.filter(({ path }) => path.startsWith('value-sets/')).length).toBeGreaterThan(30);
    expect(resources.filter(({ path }) => path.startsWith('code-systems/')).length).toBe(6);
  });

  it.each(resources.map(({ path, content }) => [path, content] as const))('%s is valid', (_path, content) => {
    expect(fhirIssues(content)).toEqual([]);
  });
});
