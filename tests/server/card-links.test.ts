import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { shipped } from '../rulebook/shipped.js';
import { testPatient } from '../advice/patients.js';
import { ORDER_PATH, callFor, cardsOf, post, testApp } from './test-service.js';
import type { WireCard } from './test-service.js';

interface LinkedCard extends WireCard {
  readonly links?: readonly { readonly label: string; readonly url: string; readonly type: string }[];
}

const call = callFor(testPatient('demo-parkinson-steep-cup').bundle, 'order-sign');
const RULES = new Set(shipped.rules.map(({ id }) => id));

async function cards(publicUrl?: string, prefix = ''): Promise<readonly LinkedCard[]> {
  const app = testApp(publicUrl === undefined ? {} : { publicUrl });
  return cardsOf(await post(app, `${prefix}${ORDER_PATH}`, call));
}

describe('[C18] the link of a card', () => {
  it('leads to the page of its rule in the rulebook that spoke, as an absolute link with a label', async () => {
    const shown = await cards('https://hip.example/kotyle', '/kotyle');
    const ofRules = shown.filter(({ source }) => RULES.has(source.topic.code));
    expect(ofRules.length).toBeGreaterThan(1);
    for (const { links, source } of ofRules) {
      expect(links).toHaveLength(1);
      expect(links?.[0]?.type).toBe('absolute');
      expect(links?.[0]?.label).not.toBe('');
      expect(links?.[0]?.url).toBe(
        `https://hip.example/kotyle/evidence/${shipped.about.version}/${source.topic.code}`,
      );
    }
  });

  it('is followed to a page that tells of the rule', async () => {
    const app = testApp({ publicUrl: 'https://hip.example' });
    const [card] = cardsOf(await post(app, ORDER_PATH, call)) as readonly LinkedCard[];
    const path = card?.links?.[0]?.url.replace('https://hip.example', '') ?? '';
    const page = await request(app).get(path);
    expect(page.status).toBe(200);
    expect(page.text).toContain(card?.source.topic.code);
  });

  it('is on no card where nobody said how the service is reached', async () => {
    for (const card of await cards()) expect(card).not.toHaveProperty('links');
  });

  it('changes nothing else of a card', async () => {
    const without = await cards();
    const linked = await cards('https://hip.example');
    expect(linked.map((card) => ({ ...card, links: undefined }))).toEqual(
      without.map((card) => ({ ...card, links: undefined })),
    );
  });
});
