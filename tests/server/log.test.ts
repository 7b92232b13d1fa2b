import { Writable } from 'node:stream';
import { pino } from 'pino';
import type { Logger } from 'pino';
import { describe, expect, it, vi } from 'vitest';
import { newAdvisor } from '../../src/advice/index.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { advisor as shipped, rulebook, service, testPatients } from '../advice/patients.js';
import {
  callFor,
  cardsOf,
  HOOKS,
  ORDER_PATH,
  orderCall,
  PATIENT,
  planned,
  post,
  problem,
  rulesOf,
  searchset,
  testApp,
  TEXTBOOK,
} from './test-service.js';
import { mapTexts, MARKER, withMarkedIds, withMarkedTexts } from './marked-calls.js';
import type { HookCall } from './test-service.js';

interface Capture {
  readonly log: Logger;
  readonly lines: readonly string[];
}

function capture(): Capture {
  const lines: string[] = [];
  const stream = new Writable({
    write(chunk: Buffer, _encoding, done) {
      lines.push(chunk.toString('utf8'));
      done();
    },
  });
  return { log: pino({ level: 'trace' }, stream), lines };
}

/** Every text of the resources replaced: nothing can be read any more, and nothing of it may be repeated. */
function withNothingElse(call: HookCall): HookCall {
  const replace = (text: string, path: readonly string[]): string =>
    path.at(-1) === 'resourceType' ? text : MARKER;
  const resources = (value: unknown): unknown => mapTexts(value, replace);
  return {
    ...call,
    context: {
      ...call.context,
      draftOrders: resources(call.context['draftOrders']),
      appointments: resources(call.context['appointments']),
    },
    prefetch: resources(call.prefetch) as HookCall['prefetch'],
  };
}

/** Values and dates of the measures made unreadable, so that findings speak of them. */
function withMarkedValues(call: HookCall): HookCall {
  return mapTexts(call, (text, path) => {
    const name = path.at(-1) ?? '';
    const inMeasures = path.includes('measures');
    return inMeasures && ['effectiveDateTime', 'valueString', 'unit'].includes(name) ? MARKER : text;
  }) as HookCall;
}

const VARIANTS: Readonly<Record<string, (call: HookCall) => HookCall>> = {
  'in every id and reference': withMarkedIds,
  'in every name, display, note and narrative': withMarkedTexts,
  'in every text there is': withNothingElse,
  'in dates and values that are then unreadable': withMarkedValues,
};

describe('the log', () => {
  for (const [where, plant] of Object.entries(VARIANTS)) {
    it(`holds nothing of a record with a marker ${where}, over all test patients`, async () => {
      const { log, lines } = capture();
      const app = testApp({ log });
      let planted = 0;
      let calls = 0;
      for (const { bundle, expected } of testPatients()) {
        for (const hook of HOOKS.filter((each) => expected.cards[each])) {
          const call = plant(callFor(bundle, hook));
          planted += JSON.stringify(call).split(MARKER).length - 1;
          await post(app, `/cds-services/${service(hook).id}`, call);
          calls += 1;
        }
      }
      // G7; style, errors: no patient data in logs.
      expect(lines.join('')).not.toContain(MARKER);
      expect(planted).toBeGreaterThan(100);
      expect(lines.length).toBeGreaterThanOrEqual(calls);
    });
  }

  it('holds the cards that were given, so that the runs above did reach the rules', async () => {
    const { log, lines } = capture();
    const app = testApp({ log });
    const spoken: string[] = [];
    for (const { bundle, expected } of testPatients()) {
      for (const hook of HOOKS.filter((each) => expected.cards[each])) {
        const call = withMarkedTexts(withMarkedIds(callFor(bundle, hook)));
        spoken.push(...rulesOf(cardsOf(await post(app, `/cds-services/${service(hook).id}`, call))));
      }
    }
    expect(spoken.length).toBeGreaterThan(20);
    for (const rule of spoken) expect(lines.join('')).toContain(rule);
    expect(lines.join('')).not.toContain(MARKER);
  });

  it('holds one line a call: service, hook, status, rules shown, leniencies, duration', async () => {
    const { log, lines } = capture();
    const call = orderCall({ measures: [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')] });
    await post(testApp({ log }), ORDER_PATH, {
      ...call,
      hookInstance: '00000000-0000-0000-0000-0000000000ff',
    });
    // Integration decisions section 3: each leniency counted.
    expect(lines.length).toBe(1);
    const line = JSON.parse(lines[0] ?? '') as Readonly<Record<string, unknown>>;
    expect(line).toMatchObject({
      service: 'hip-stability-order',
      hook: 'order-sign',
      status: 200,
      cards: ['cup-inclination-outside-published'],
      leniencies: ['hookInstance not a UUID of RFC 9562'],
    });
    expect(line['ms']).toBeTypeOf('number');
  });

  it('says that a call was made by somebody who is no professional, without saying by whom', async () => {
    const { log, lines } = capture();
    await post(testApp({ log }), ORDER_PATH, orderCall({ context: { userId: `Patient/${MARKER}` } }));
    // H6: logged as "non-professional user".
    expect(lines.join('')).toMatch(/professional/);
    expect(lines.join('')).not.toContain(MARKER);
  });

  it('holds nothing of a request that was refused, nor of its token', async () => {
    const { log, lines } = capture();
    const app = testApp({ log, bodyLimitBytes: 8192 });
    const bodies: readonly unknown[] = [
      `{"hook": "${MARKER}"`,
      JSON.stringify(MARKER),
      orderCall({ context: { patientId: `${MARKER} ${MARKER}` } }),
      orderCall({ prefetch: { patient: { ...PATIENT, id: MARKER } } }),
      { ...orderCall(), hookInstance: MARKER },
      { ...orderCall(), extension: { 'com.example.x': MARKER.repeat(2000) } },
    ];
    for (const body of bodies) {
      const reply = await post(app, `${ORDER_PATH}?name=${MARKER}`, body, {
        'Content-Type': 'application/json',
        Authorization: `Bearer ${MARKER}`,
      });
      expect(reply.status).toBeGreaterThanOrEqual(400);
    }
    const token = {
      access_token: MARKER,
      token_type: 'Bearer',
      expires_in: 300,
      scope: 'user/*.read',
      subject: MARKER,
    };
    const fhirServer = `https://${MARKER}.example/fhir`;
    await post(app, ORDER_PATH, { ...orderCall(), fhirServer, fhirAuthorization: token });
    await post(app, `/cds-services/${MARKER}`, orderCall());
    // G7, F3, S12.
    expect(lines.join('')).not.toContain(MARKER);
  });
});

describe('the standard streams', () => {
  it('get nothing of a record either, past the log: a library may print what it cannot read', async () => {
    const printed: unknown[][] = [];
    const spies = (['log', 'info', 'warn', 'error', 'debug'] as const).map((name) =>
      vi.spyOn(console, name).mockImplementation((...words: unknown[]) => {
        printed.push(words);
      }),
    );
    try {
      for (const code of [`${MARKER} ${MARKER}`, `${MARKER}{`, `m/${MARKER}/`, `(${MARKER}`, MARKER]) {
        const valueQuantity = { value: 40, system: 'http://unitsofmeasure.org', code };
        const measures = [planned('cup-inclination', 40, 'deg', { valueQuantity })];
        cardsOf(await post(testApp(), ORDER_PATH, orderCall({ measures })));
      }
    } finally {
      for (const spy of spies) spy.mockRestore();
    }
    // G7; style, errors: no patient data in logs, whoever writes them.
    expect(printed).toEqual([]);
  });
});

describe('when something of ours breaks', () => {
  it('one rule is not evaluated, the others are, and the clinician and the log are told', async () => {
    const { log, lines } = capture();
    const broken = newAdvisor(rulebook, {
      ...COMPUTATIONS,
      'head-neck-ratio': () => {
        throw new RangeError('a computation out of order');
      },
    });
    const parkinson = {
      resourceType: 'Condition',
      id: 'condition-1',
      subject: { reference: 'Patient/patient-1' },
      code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }], text: MARKER },
    };
    const call = orderCall({ prefetch: { conditions: searchset(parkinson) } });
    const cards = cardsOf(await post(testApp({ log, advisor: broken }), ORDER_PATH, call));
    // Style, errors: one rule breaks → the others go on; clinician: "could not be evaluated"; log: stack and rule id.
    expect(rulesOf(cards)).toEqual(['neurological-disease', 'data-gap']);
    expect(cards[1]?.detail).toContain('could not be evaluated');
    expect(cards[1]?.detail).not.toContain('out of order');
    expect(lines.join('')).toContain('head-neck-ratio-low-with-trigger');
    expect(lines.join('')).toContain('RangeError');
    expect(lines.join('')).not.toContain(MARKER);
  });

  it('the whole, the caller gets an opaque 500 and the log the stack', async () => {
    const { log, lines } = capture();
    const broken = { ...shipped, decide: () => Promise.reject(new Error('the engine stands still')) };
    const call = orderCall({ prefetch: { patient: { ...PATIENT, name: [{ family: MARKER }] } } });
    const issues = problem(await post(testApp({ log, advisor: broken }), ORDER_PATH, call), 500, [
      MARKER,
      'stands still',
    ]);
    // E8, E9; style, errors: our mistake → log; caller gets an opaque 500.
    expect(issues[0]?.code).toBe('exception');
    expect(lines.join('')).toContain('the engine stands still');
    expect(lines.join('')).not.toContain(MARKER);
  });
});
