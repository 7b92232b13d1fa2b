import { describe, expect, it } from 'vitest';
import { grantOf } from '../../../src/server/fallback/scopes.js';

describe('the scopes of a token', () => {
  // SMART App Launch 1.0.0, "scopes and launch context": user|patient|system / type|* . read|write|*.
  // SMART App Launch 2.0.0, "scopes for requesting FHIR resources": create, read, update, delete, search, in this order.
  // F4: `.read` ≙ `.rs`, `.write` ≙ `.cud`, `.*` ≙ `.cruds`.
  const table: readonly (readonly [scopes: string, read: string, search: string])[] = [
    ['patient/Condition.read', 'whole', 'whole'],
    ['user/*.read', 'whole', 'whole'],
    ['system/*.*', 'whole', 'whole'],
    ['patient/*.*', 'whole', 'whole'],
    ['patient/Condition.rs', 'whole', 'whole'],
    ['system/*.cruds', 'whole', 'whole'],
    ['patient/Condition.r', 'whole', 'none'],
    ['patient/Condition.s', 'none', 'whole'],
    ['patient/Condition.write', 'none', 'none'],
    ['patient/Condition.cud', 'none', 'none'],
    ['patient/*.write user/Condition.s', 'none', 'whole'],
    ['patient/Observation.read', 'none', 'none'],
    ['launch openid fhirUser offline_access', 'none', 'none'],
    ['patient/Condition.rs?category=problem-list-item', 'part', 'part'],
    ['patient/Condition.rs?category=problem-list-item patient/Condition.r', 'whole', 'part'],
    ['patient/Condition.rs?category=problem-list-item user/*.read', 'whole', 'whole'],
    // Not scopes of either version.
    ['patient/Condition', 'none', 'none'],
    ['patient/Condition.', 'none', 'none'],
    ['patient/Condition.sr', 'none', 'none'],
    ['patient/condition.read', 'none', 'none'],
    ['other/Condition.read', 'none', 'none'],
    ['patient/ConditionX.read', 'none', 'none'],
    ['xpatient/Condition.read', 'none', 'none'],
    // Parted by any white space.
    ['  openid   patient/Condition.read\n', 'whole', 'whole'],
  ];
  for (const [scopes, read, search] of table) {
    it(`"${scopes.trim()}" let Conditions be read: ${read}, searched: ${search}`, () => {
      expect([grantOf(scopes, 'Condition', 'r'), grantOf(scopes, 'Condition', 's')]).toEqual([read, search]);
    });
  }

  it('that are not told leave it to asking', () => {
    expect(grantOf(undefined, 'Condition', 's')).toBe('whole');
    expect(grantOf(' ', 'Condition', 's')).toBe('whole');
  });
});
