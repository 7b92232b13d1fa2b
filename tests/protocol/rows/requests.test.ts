import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { accessTo } from '../../server/record-calls.js';
import {
  cardsOf,
  HOOK_INSTANCE,
  ORDER_PATH,
  orderCall,
  pathsOf,
  post,
  problem,
  testApp,
} from '../../server/test-service.js';
import type { Reply } from '../../server/test-service.js';
import { SPEAKING, speakingCall } from './answers.js';
import { loggedCall } from './call-log.js';

const app = testApp();
const strict = testApp({ strict: true });
const CALL = orderCall();
const [, SPEAKS] = speakingCall('order-sign');

function changed(member: string, value: unknown): object {
  return { ...CALL, [member]: value };
}

/** Insists on a refusal of this one member, by its path. */
async function refused(body: object, path: string, service = app): Promise<void> {
  expect(
    pathsOf(problem(await post(service, ORDER_PATH, body), 400)),
    JSON.stringify(body).slice(-80),
  ).toContain(path);
}

describe('a call', () => {
  it('[R1] is a POST: every other verb is 405 and told which is taken, at services and feedback', async () => {
    for (const path of [ORDER_PATH, `${ORDER_PATH}/feedback`])
      for (const verb of ['get', 'put', 'patch', 'delete', 'options'] as const) {
        const reply = (await request(app)[verb](path)) as Reply;
        problem(reply, 405);
        expect(reply.headers['allow']).toBe('POST');
      }
    const head = (await request(app).head(ORDER_PATH)) as Reply;
    expect(head.status).toBe(405);
  });

  it('[R2] names a hook of its id, and no other text or value', async () => {
    for (const hook of [undefined, null, 7, '', 'order-review', 'patient-view', 'Order-Sign', ['order-sign']])
      await refused(changed('hook', hook), 'hook');
  });

  it('[R3] has a hook instance that is a UUID; one of no version is let pass and counted, unless strict', async () => {
    for (const hookInstance of [
      undefined,
      null,
      7,
      '',
      'x',
      `{${HOOK_INSTANCE}}`,
      [HOOK_INSTANCE],
      `urn:uuid:${HOOK_INSTANCE}`,
      `${HOOK_INSTANCE}0`,
    ])
      await refused(changed('hookInstance', hookInstance), 'hookInstance');
    const odd = changed('hookInstance', '00000000-0000-0000-0000-0000000000ff');
    const { reply, leniencies } = await loggedCall(ORDER_PATH, odd);
    expect(reply.status).toBe(200);
    expect(leniencies).toEqual(['hookInstance not a UUID of RFC 9562']);
    await refused(odd, 'hookInstance', strict);
  });

  it('[R4] has a context that is an object', async () => {
    for (const context of [undefined, null, 7, 'x', [], [{}]])
      await refused(changed('context', context), 'context');
  });

  it('[R5] with a token needs the server it is for', async () => {
    const { fhirServer, ...access } = accessTo('https://record.example/fhir');
    await refused({ ...CALL, ...access }, 'fhirServer');
    expect((await post(app, ORDER_PATH, { ...CALL, ...access, fhirServer })).status).toBe(200);
    for (const other of [
      7,
      null,
      '',
      'record.example/fhir',
      'ftp://record.example/fhir',
      'javascript:alert(1)',
    ])
      await refused({ ...CALL, fhirServer: other }, 'fhirServer');
  });

  it('[R6] with a token has each of its five members, and Bearer as the type', async () => {
    const access = accessTo('https://record.example/fhir');
    const members = access['fhirAuthorization'] as Readonly<Record<string, unknown>>;
    const wrong: Readonly<Record<string, readonly unknown[]>> = {
      access_token: [undefined, null, 7, ''],
      token_type: [undefined, null, 'bearer', 'Basic', ''],
      expires_in: [undefined, null, '300', 1.5],
      scope: [undefined, null, 7, []],
      subject: [undefined, null, 7],
    };
    expect(Object.keys(wrong)).toEqual(Object.keys(members));
    for (const [member, values] of Object.entries(wrong))
      for (const value of values)
        await refused(
          { ...CALL, ...access, fhirAuthorization: { ...members, [member]: value } },
          `fhirAuthorization.${member}`,
        );
  });

  it('[R6] with scopes of a patient it does not name is counted, also where strict: that is a warning', async () => {
    const access = accessTo('https://record.example/fhir', { scope: 'openid patient/Condition.read' });
    for (const settings of [{}, { strict: true }]) {
      const { reply, leniencies } = await loggedCall(ORDER_PATH, { ...CALL, ...access }, settings);
      expect(reply.status).toBe(200);
      expect(leniencies).toEqual(['no patient beside scopes of a patient']);
    }
    const named = { ...(access['fhirAuthorization'] as object), patient: 'patient-1' };
    const { leniencies } = await loggedCall(ORDER_PATH, { ...CALL, ...access, fhirAuthorization: named });
    expect(leniencies).toEqual([]);
  });

  it('[R7] may leave prefetch out, or have null for a key or for all of it; nothing else than an object', async () => {
    const { prefetch, ...bare } = CALL;
    expect(Object.keys(prefetch).length).toBeGreaterThan(0);
    for (const body of [
      bare,
      changed('prefetch', null),
      changed('prefetch', { ...prefetch, conditions: null }),
    ])
      expect((await post(app, ORDER_PATH, body)).status).toBe(200);
    for (const value of [[], 'x', 7, true]) await refused(changed('prefetch', value), 'prefetch');
  });

  it('[R8] with extensions of any name is answered as without them', async () => {
    const plain = await post(app, ORDER_PATH, SPEAKS);
    for (const extension of [{}, { 'com.example.a': { b: [1] } }, { 'org.other': 'x', '': null }])
      expect((await post(app, ORDER_PATH, { ...SPEAKS, extension })).text).toBe(plain.text);
  });

  it('[R9] with unknown members beside those of the standard is answered alike, and that is counted', async () => {
    const plain = await post(app, ORDER_PATH, SPEAKS);
    const old = {
      ...SPEAKS,
      user: 'Practitioner/x',
      patient: 'patient-1',
      redirect: 'https://x.example',
      toString: 1,
    };
    for (const settings of [{}, { strict: true }]) {
      const { reply, leniencies } = await loggedCall(ORDER_PATH, old, settings);
      expect(reply.text).toBe(plain.text);
      expect(leniencies).toEqual(['unknown top-level member']);
    }
    const { leniencies } = await loggedCall(ORDER_PATH, { ...SPEAKS, extension: { a: 1 } });
    expect(leniencies).toEqual([]);
  });

  it('[R10] that is malformed is told what was expected and what kind of thing was found, and none of its values', async () => {
    const secret = 'Zqxsecret';
    const body = {
      ...CALL,
      hookInstance: secret,
      context: { ...CALL.context, patientId: secret, userId: [secret] },
    };
    const issues = problem(await post(app, ORDER_PATH, body), 400, [secret]);
    for (const { diagnostics } of issues) expect(diagnostics).toMatch(/^expected .+, found .+/);
  });

  it('[R11] sent twice is answered in the same bytes, cards and their ids included', async () => {
    for (const [path, call] of Object.values(SPEAKING)) {
      const first = await post(app, path, call);
      expect(cardsOf(first).length).toBeGreaterThan(0);
      expect((await post(testApp(), path, call)).text).toBe(first.text);
    }
  });

  it('[R12] to an id there is not is 404, also one of another form or of a member of objects', async () => {
    for (const id of [
      'hip',
      'HIP-STABILITY-ORDER',
      'hip-stability-order ',
      '__proto__',
      'toString',
      '%00',
      '..',
    ])
      problem(await post(app, `/cds-services/${encodeURIComponent(id)}`, CALL), 404);
  });
});
