import request from 'supertest';
import { describe, expect, it } from 'vitest';
import type { Advisor } from '../../../src/advice/index.js';
import { newLifecycle } from '../../../src/server/operations/lifecycle.js';
import { newReadiness } from '../../../src/server/operations/readiness.js';
import type { ReadinessParts } from '../../../src/server/operations/readiness.js';
import { parseSite } from '../../../src/rulebook/site.js';
import type { Site } from '../../../src/rulebook/site.js';
import { advisor, rulebook } from '../../advice/patients.js';
import { pathsOf, problem, testApp } from '../test-service.js';

const healthy: ReadinessParts = {
  installation: () => ({ advisor }),
  engineVersion: '0.2.0',
  store: { ping: () => Promise.resolve() },
  lifecycle: newLifecycle(),
};

/** Which parts are not ready. */
async function notReady(change: Partial<ReadinessParts>): Promise<readonly string[]> {
  const issues = await newReadiness({ ...healthy, ...change })();
  expect(issues.every(({ code }) => code === 'not-ready')).toBe(true);
  return issues.map(({ path }) => path);
}

const withAdvisor = (changed: Partial<Advisor>): Partial<ReadinessParts> => ({
  installation: () => ({ advisor: { ...advisor, ...changed } }),
});

describe('a service is ready', () => {
  it('when the built-in patient gets what it must get, and the database answers', async () => {
    expect(await notReady({})).toEqual([]);
  });

  it('not when the rule that must fire is gone from the rulebook', async () => {
    const rules = rulebook.rules.filter(({ id }) => id !== 'cup-inclination-outside-published');
    expect(await notReady(withAdvisor({ rulebook: { ...rulebook, rules } }))).toEqual(['rulebook']);
  });

  it('not when a rule breaks', async () => {
    const decide: Advisor['decide'] = async (facts) => {
      const decided = new Map(await advisor.decide(facts));
      return decided.set('liner-thin', { error: new RangeError('out of order') });
    };
    expect(await notReady(withAdvisor({ decide }))).toEqual(['rulebook']);
  });

  it('not when the two evaluators decide one rule in other words, which no card would show', async () => {
    const decide: Advisor['decide'] = async (facts) => {
      const decided = new Map(await advisor.decide(facts));
      const own = decided.get('liner-thin');
      const other = decided.get('hip-side-conflict');
      if (own && other && !('error' in own) && !('error' in other))
        decided.set('liner-thin', { ...own, when: other.when });
      return decided;
    };
    const issues = await newReadiness({ ...healthy, ...withAdvisor({ decide }) })();
    expect(issues.map(({ message }) => message).join()).toMatch(/\bliner-thin$/);
  });

  it('not when nothing can be decided', async () => {
    const decide = (): Promise<never> => Promise.reject(new Error('the engine stands still'));
    expect(await notReady(withAdvisor({ decide }))).toEqual(['rulebook']);
  });

  it('not when the database does not take a write', async () => {
    const store = { ping: () => Promise.reject(new Error('disk full')) };
    expect(await notReady({ store })).toEqual(['store']);
  });

  it('not while it is stopping', async () => {
    const lifecycle = newLifecycle();
    lifecycle.beginStopping();
    expect(await notReady({ lifecycle })).toEqual(['service']);
  });

  it('whomever the installation speaks to: that the built-in user is nobody of them is no fault', async () => {
    const result = parseSite(
      [
        {
          path: 'site.json',
          content: {
            id: 'readers',
            version: '2026.11.1',
            rulebook: { version: rulebook.about.version, hash: rulebook.hash },
            audience: { 'hip-stability-order': ['https://roles.example|surgeon'] },
          },
        },
      ],
      rulebook,
    );
    const site = (result as { readonly site: Site }).site;
    expect(site.audience.size).toBe(1);
    expect(await notReady({ installation: () => ({ advisor, site }) })).toEqual([]);
  });
});

describe('asking whether it is ready', () => {
  it('makes work at most once a second, however often and by however many it is asked', async () => {
    let pings = 0;
    let elapsed = 5000;
    const store = {
      ping: () => {
        pings += 1;
        return Promise.resolve();
      },
    };
    const ready = newReadiness({ ...healthy, store, elapsed: () => elapsed });
    await Promise.all([ready(), ready(), ready()]);
    elapsed += 999;
    await ready();
    expect(pings).toBe(1);
    elapsed += 1;
    await ready();
    expect(pings).toBe(2);
  });
});

describe('/ready', () => {
  it('tells mode and knowledge, who signed it, and what each service does', async () => {
    const reply = await request(testApp()).get('/ready');
    expect(reply.status).toBe(200);
    expect(reply.body).toMatchObject({
      status: 'ready',
      mode: 'development',
      rulebook: rulebook.about.version,
      rulebookHash: rulebook.hash,
      signature: 'none',
      services: { 'hip-stability-order': 'speak' },
    });
  });

  it('is silent in production where nobody signed, and ready all the same', async () => {
    const reply = await request(testApp({ mode: 'production', publicUrl: 'https://hip.example' })).get(
      '/ready',
    );
    expect(reply.body).toMatchObject({
      status: 'ready',
      signature: 'none',
      services: { 'hip-stability-booking': 'silent', 'hip-stability-order': 'silent' },
    });
  });

  it('[E8] answers 503 with an OperationOutcome that names the part', async () => {
    const broken = { ...advisor, decide: (): Promise<never> => Promise.reject(new Error('stands still')) };
    const issues = problem(await request(testApp({ advisor: broken })).get('/ready'), 503, ['stands still']);
    expect(pathsOf(issues)).toEqual(['rulebook']);
  });

  it('lives on while it is not ready: /health is another question', async () => {
    const broken = { ...advisor, decide: (): Promise<never> => Promise.reject(new Error('stands still')) };
    expect((await request(testApp({ advisor: broken })).get('/health')).status).toBe(200);
  });
});
