import { describe, expect, it } from 'vitest';
import { bundleEntries, readDataSet } from '../../src/fhir/bundle.js';
import type { JsonObject } from '../../src/fhir/json.js';

const condition = { resourceType: 'Condition', id: 'c1' };
const outcome = (severity: string): JsonObject => ({
  resourceType: 'OperationOutcome',
  issue: [{ severity, code: 'processing' }],
});
const searchset = (...entry: readonly unknown[]): JsonObject => ({
  resourceType: 'Bundle',
  type: 'searchset',
  entry,
});
const match = (resource: unknown): JsonObject => ({ resource, search: { mode: 'match' } });
const beside = (resource: unknown): JsonObject => ({ resource, search: { mode: 'outcome' } });
const status = (value: unknown): string =>
  readDataSet({ conditions: value }, 'conditions', 'Condition').status;
const count = (value: unknown): number =>
  readDataSet({ conditions: value }, 'conditions', 'Condition').resources.length;

// Truth throughout: integration decisions §2, "three states differ" and what makes a query failed or incomplete.
describe('a set of the prefetch', () => {
  it('is absent when its key is, and complete when it was looked for and nothing was found', () => {
    expect(readDataSet({}, 'conditions', 'Condition').status).toBe('absent');
    expect(status(null)).toBe('complete');
    expect(status({ resourceType: 'Bundle', type: 'searchset', total: 0 })).toBe('complete');
    expect(count({ resourceType: 'Bundle', type: 'searchset', total: 0 })).toBe(0);
  });

  it('is absent when the key holds no FHIR resource', () => {
    for (const value of ['text', 7, [], {}, { resourceType: 5 }, undefined])
      expect(status(value)).toBe('absent');
  });

  it('is one resource where a read was asked for, and absent where another kind came instead', () => {
    expect(status(condition)).toBe('complete');
    expect(count(condition)).toBe(1);
    expect(status({ resourceType: 'Patient', id: 'p' })).toBe('absent');
  });

  it('is not found under an inherited name', () => {
    expect(readDataSet({}, 'constructor', 'Condition').status).toBe('absent');
    expect(readDataSet({}, '__proto__', 'Condition').status).toBe('absent');
  });

  it('is complete with the matches of a search', () => {
    expect(status(searchset(match(condition)))).toBe('complete');
    expect(count(searchset(match(condition), match({ ...condition, id: 'c2' })))).toBe(2);
  });

  it('is incomplete while a next page was not followed, whatever other links there are', () => {
    const paged = {
      ...searchset(match(condition)),
      link: [
        { relation: 'self', url: 'a' },
        { relation: 'next', url: 'b' },
      ],
    };
    expect(status(paged)).toBe('incomplete');
    expect(count(paged)).toBe(1);
    expect(status({ ...searchset(match(condition)), link: [{ relation: 'self', url: 'a' }] })).toBe(
      'complete',
    );
    expect(
      status({ resourceType: 'Bundle', type: 'searchset', link: [{ relation: 'next', url: 'b' }] }),
    ).toBe('incomplete');
  });

  it('has failed when an OperationOutcome came instead of it, or stands alone in its Bundle', () => {
    expect(status(outcome('error'))).toBe('failed');
    expect(status(outcome('information'))).toBe('failed');
    expect(status(searchset(beside(outcome('warning'))))).toBe('failed');
  });

  it('has failed when an outcome beside matches is an error or fatal, and is usable beside a warning', () => {
    expect(status(searchset(match(condition), beside(outcome('error'))))).toBe('failed');
    expect(status(searchset(match(condition), beside(outcome('fatal'))))).toBe('failed');
    expect(
      status(searchset(match(condition), beside(outcome('warning')), beside(outcome('information')))),
    ).toBe('complete');
    expect(count(searchset(match(condition), beside(outcome('warning'))))).toBe(1);
  });

  it('is incomplete when an entry came without its resource', () => {
    expect(status(searchset(match(condition), { fullUrl: 'https://record.example/fhir/Condition/c2' }))).toBe(
      'incomplete',
    );
    expect(status(searchset(match(condition), match({ id: 'no type' })))).toBe('incomplete');
  });

  it('is incomplete when its entries are not the list they should be, so that nothing unread reads as nothing there', () => {
    expect(status({ resourceType: 'Bundle', type: 'searchset', entry: match(condition) })).not.toBe(
      'complete',
    );
    expect(status(searchset(null))).not.toBe('complete');
    expect(status(searchset('Condition/c1'))).not.toBe('complete');
  });
});

describe('the entries of a bundle', () => {
  it('come with their full URLs, and what is no resource is passed over', () => {
    // Truth: published, FHIR R4 Bundle.entry; closed form for the rest.
    const bundle = searchset(
      { fullUrl: 'urn:uuid:1', resource: condition },
      { resource: condition },
      { fullUrl: 'x' },
      3,
    );
    expect(bundleEntries(bundle)).toEqual([
      { fullUrl: 'urn:uuid:1', resource: condition },
      { resource: condition },
    ]);
    expect(bundleEntries({})).toEqual([]);
  });
});
