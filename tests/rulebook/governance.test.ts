import { afterEach, describe, expect, it } from 'vitest';
import { SERVICES } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { governance } from '../../src/rulebook/governance-report.js';
import { serviceState, signatureOf, stateOf } from '../../src/rulebook/governance.js';
import type { Governed, Mode } from '../../src/rulebook/governance.js';
import { SITE_SERVICES, STATES } from '../../src/rulebook/governance-schema.js';
import type { Site } from '../../src/rulebook/site.js';
import { filesWith, siteOf } from '../facts/sites.js';
import { shipped } from './shipped.js';

// Truth throughout, where nothing else is named: integration decisions section 4.

const NOW = '2026-11-24T10:00:00.000Z';
const RULE = 'hip-side-conflict';
const DECIDED = { why: 'a reason', by: 'the hip team', date: '2026-11-02', until: '2027-11-01' };

function site(members: JsonObject): Site {
  const [file] = filesWith();
  if (!file) throw new Error('expected a site file');
  return siteOf([{ ...file, content: { ...(file.content as JsonObject), ...members } }]);
}

function signed(members: JsonObject): Site {
  const { hash } = site(members);
  const approval = { by: 'N. N.', role: 'clinical lead', date: '2026-11-02', contentHash: hash };
  return site({ ...members, approvals: [approval] });
}

function governed(mode: Mode, of?: Site): Governed {
  return { rulebook: shipped, mode, ...(of && { site: of }) };
}

/** In the order of strictness. */
const stricter = (a: string, b: string): string => STATES.find((state) => state === a || state === b) ?? a;

describe('the state of a rule at an entry', () => {
  const cases = SERVICES.flatMap(({ id, hook }) =>
    STATES.flatMap((service) => STATES.map((rule) => [id, hook, service, rule] as const)),
  );

  it.each(cases)('of %s at %s is the stricter of service %s and rule %s', (id, hook, service, state) => {
    const other = 'dysplasia-or-childhood-hip';
    const of = site({ services: { [id]: service }, rules: { [other]: { ...DECIDED, state } } });
    const asked = { rule: other, hook, now: NOW };
    expect(stateOf(governed('development', of), id, asked).state).toBe(stricter(service, state));
    // What is set for one rule is set for no other.
    expect(stateOf(governed('development', of), id, { ...asked, rule: RULE }).state).toBe(service);
  });

  it('is silent at the hooks a site narrowed it away from', () => {
    const of = site({ rules: { [RULE]: { ...DECIDED, hooks: ['order-sign'] } } });
    const at = (hook: 'order-sign' | 'patient-view'): unknown =>
      stateOf(governed('development', of), 'hip-stability-order', { rule: RULE, hook, now: NOW });
    expect(at('order-sign')).toEqual({ state: 'speak', why: 'shipped' });
    expect(at('patient-view')).toEqual({ state: 'silent', why: 'hook' });
  });
});

describe('a service nobody named', () => {
  it('speaks in development and is silent in production, signed or not', () => {
    const asked = { rule: RULE, hook: 'order-sign', now: NOW } as const;
    for (const service of SITE_SERVICES) {
      expect(stateOf(governed('development'), service, asked).state).toBe('speak');
      expect(serviceState(governed('production'), service)).toEqual({ state: 'silent', why: 'not-signed' });
      expect(serviceState(governed('production', site({})), service).why).toBe('not-signed');
      expect(serviceState(governed('production', signed({})), service)).toEqual({
        state: 'silent',
        why: 'not-named',
      });
    }
  });
});

describe('in production', () => {
  const SPEAKING = { services: { 'hip-stability-order': 'speak', 'hip-stability-chart': 'off' } };

  it('what is named speaks once the whole is signed', () => {
    const states = (of: Site): unknown =>
      SITE_SERVICES.map((service) => serviceState(governed('production', of), service).state);
    expect(states(site(SPEAKING))).toEqual(['silent', 'silent', 'off']);
    expect(states(signed(SPEAKING))).toEqual(['silent', 'speak', 'off']);
  });

  it('a signature of the rulebook alone lets nothing speak', () => {
    const approval = { by: 'N. N.', role: 'clinical lead', date: '2026-11-02', contentHash: shipped.hash };
    const of = site({ ...SPEAKING, approvals: [approval] });
    expect(signatureOf(governed('production', of))).toBe('rulebook');
    expect(serviceState(governed('production', of), 'hip-stability-order').state).toBe('silent');
  });

  it('a signature ends with any edit, and holds again when the edit is undone', () => {
    const { approvals } = signed(SPEAKING);
    const stands = (members: JsonObject): string =>
      signatureOf(governed('production', site({ ...members, approvals })));
    expect(stands(SPEAKING)).toBe('installation');
    for (const edit of [
      { services: { 'hip-stability-order': 'speak' } },
      { ceiling: { 'order-sign': 4 } },
      { rules: { [RULE]: { ...DECIDED, note: 'see the local plan' } } },
      { defaults: { 'surgical-approach': 'posterior' } },
      { version: '2' },
    ])
      expect(stands({ ...SPEAKING, ...edit }), JSON.stringify(edit)).toBe('none');
    expect(stands(SPEAKING)).toBe('installation');
  });
});

describe('a setting with a last day', () => {
  const zone = process.env['TZ'];
  afterEach(() => {
    if (zone === undefined) delete process.env['TZ'];
    else process.env['TZ'] = zone;
  });

  it.each(['Pacific/Kiritimati', 'Pacific/Pago_Pago'])(
    'holds through that day and not a moment longer, for a machine in %s too',
    (local) => {
      process.env['TZ'] = local;
      const of = site({ rules: { [RULE]: { ...DECIDED, state: 'silent', until: '2027-05-01' } } });
      const at = (now: string): string =>
        stateOf(governed('development', of), 'hip-stability-order', { rule: RULE, hook: 'order-sign', now })
          .state;
      expect(at('2027-04-30T12:00:00.000Z')).toBe('silent');
      expect(at('2027-05-01T00:00:00.000Z')).toBe('silent');
      expect(at('2027-05-01T23:59:59.999Z')).toBe('silent');
      expect(at('2027-05-02T00:00:00.000Z')).toBe('speak');
      // One instant, however it is written down.
      expect(at('2027-05-02T13:59:59.999+14:00')).toBe('silent');
      expect(at('2027-05-01T12:00:00.000-12:00')).toBe('speak');
    },
  );
});

describe('the governance of an installation', () => {
  it('tells what speaks, what was set, until when, and who signed which content', () => {
    const of = signed({
      services: { 'hip-stability-order': 'speak' },
      rules: { [RULE]: { ...DECIDED, state: 'silent', until: '2026-11-20' } },
      parameters: { 'cup-inclination-upper-limit': { ...DECIDED, value: 48, unit: 'deg' } },
    });
    const told = governance({ rulebook: shipped, site: of }, 'production', NOW);
    expect(told).toMatchObject({
      mode: 'production',
      signature: 'installation',
      rulebook: { version: shipped.about.version, status: 'draft, experimental' },
      rules: [{ rule: RULE, state: 'silent', until: '2026-11-20', ended: true }],
      parameters: [{ parameter: 'cup-inclination-upper-limit', value: 48, rulebook: 50, ended: false }],
      approvals: [{ of: 'installation', by: 'N. N.' }],
    });
    expect(told.services.map(({ state }) => state)).toEqual(['silent', 'speak', 'silent']);
    expect(JSON.parse(JSON.stringify(told))).toEqual(told);
  });

  it('gives notice of what has ended, ends within 30 days, is overdue, local or unsigned', () => {
    const until = (day: string): JsonObject => ({
      rules: { [RULE]: { ...DECIDED, state: 'silent', until: day, reviewBy: '2027-01-01' } },
    });
    const notices = (members: JsonObject): readonly string[] =>
      governance({ rulebook: shipped, site: site(members) }, 'development', NOW).notices.map(
        ({ path, found }) => `${path} ${found}`,
      );
    const unsigned = 'approvals none';
    expect(notices(until('2026-12-24'))).toEqual([unsigned]);
    expect(notices(until('2026-12-23'))).toEqual([unsigned, `rules.${RULE}.until 2026-12-23, in 29 days`]);
    expect(notices(until('2026-11-24'))).toEqual([unsigned, `rules.${RULE}.until 2026-11-24, in 0 days`]);
    expect(notices(until('2026-11-23'))).toEqual([
      unsigned,
      `rules.${RULE}.until 2026-11-23, which has passed: the rulebook counts`,
    ]);
    const limits = { parameters: { 'cup-inclination-upper-limit': { ...DECIDED, value: 48, unit: 'deg' } } };
    expect(notices(limits)).toEqual([unsigned, 'parameters.cup-inclination-upper-limit.value 48 deg here']);
    const overdue = { rules: { [RULE]: { ...DECIDED, reviewBy: '2026-11-23' } } };
    expect(notices(overdue)).toEqual([unsigned, `rules.${RULE}.reviewBy none since`]);
    const other = { by: 'N. N.', role: 'lead', date: '2027-01-01', contentHash: `sha256-${'0'.repeat(64)}` };
    expect(notices({ approvals: [other] })).toEqual([
      'approvals approvals of other content',
      'approvals[0].date 2027-01-01',
    ]);
  });
});
