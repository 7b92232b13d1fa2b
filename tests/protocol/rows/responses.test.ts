import { describe, expect, it } from 'vitest';
import { advisor as shipped, rulebook } from '../../advice/patients.js';
import type { Advisor } from '../../../src/advice/index.js';
import { checkedCards } from '../../../src/advice/checked-cards.js';
import { cardFaults } from '../../../src/render/card-check.js';
import type { Card } from '../../../src/render/card-types.js';
import { checkResponse } from '../logical-model-check.js';
import { readPublished } from '../published-models.js';
import {
  cardsOf,
  ORDER_PATH,
  orderCall,
  planned,
  post,
  problem,
  rulesOf,
  testApp,
} from '../../server/test-service.js';
import { CROWDED, SPEAKING, speakingCall, speakingCards, STEEP_PLAN } from './answers.js';
import { loggedCall } from './call-log.js';

const app = testApp({ publicUrl: 'https://hip.hospital.example' });
const cards = await speakingCards(testApp());
const linked = await speakingCards(app);

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

/** Members of a card as a client would see them, whatever its type here says. */
const member = (card: object, name: string): unknown => (card as Readonly<Record<string, unknown>>)[name];
const members = (card: object, name: string): readonly object[] =>
  (member(card, name) ?? []) as readonly object[];

describe('an answer', () => {
  it('[C1, E1] is 200 with an object that holds a list of cards and nothing else', async () => {
    for (const [path, call] of [...Object.values(SPEAKING), [ORDER_PATH, orderCall()] as const]) {
      const reply = await post(testApp(), path, call);
      expect(reply.status).toBe(200);
      expect(Object.keys(JSON.parse(reply.text) as object)).toEqual(['cards']);
      expect(checkResponse(JSON.parse(reply.text))).toEqual([]);
    }
    expect(cards.length).toBeGreaterThan(4);
  });

  it('[C2] with nothing to say is an empty list', async () => {
    expect((await post(testApp(), ORDER_PATH, orderCall())).text).toBe('{"cards":[]}');
  });

  it('[C21] has no system actions, whatever the client says it supports', async () => {
    const [path, call] = speakingCall('order-sign');
    const eager = {
      ...call,
      extension: { 'org.cds-hooks.client': { systemActions: true, actionSelectionBehavior: true } },
    };
    expect(JSON.parse((await post(testApp(), path, eager)).text)).not.toHaveProperty('systemActions');
  });

  it('[C25] has critical cards first, then warnings, then information', async () => {
    const found = cardsOf(await post(testApp(), ORDER_PATH, CROWDED)).map(({ indicator }) => indicator);
    const order = ['critical', 'warning', 'info'];
    expect(found[0]).toBe('critical');
    expect(found).toEqual([...found].sort((a, b) => order.indexOf(a) - order.indexOf(b)));
  });
});

describe('every card', () => {
  it('[C3] has a UUID, and so has every suggestion, none like another', () => {
    const ids = cards.flatMap((card) => [card.uuid, ...card.suggestions.map(({ uuid }) => uuid)]);
    for (const id of ids) expect(id).toMatch(UUID);
    expect(new Set(ids).size).toBe(ids.length);
  });

  it('[C4] has a summary of fewer than 140 characters on one line, however long what it tells of is', () => {
    for (const { summary } of cards) {
      expect(summary.length).toBeLessThan(140);
      expect(summary).not.toMatch(/[\n\r]/);
    }
    const card = (summary: string): object => ({ ...cards[0], summary });
    // Truth: CDS Hooks 2.0.1, Card Attributes: <140 characters.
    expect(cardFaults(card('x'.repeat(139)))).toEqual([]);
    expect(cardFaults(card('x'.repeat(140)))).not.toEqual([]);
    // Characters beyond the basic plane count twice, as a client in JavaScript counts them.
    expect(cardFaults(card('🦴'.repeat(70)))).not.toEqual([]);
  });

  it('[C5] has no HTML in its detail and no link, whatever the record holds', async () => {
    const hostile = [
      '<script>alert(1)</script>',
      '<img src=x onerror=alert(1)>',
      '[x](https://evil.example)',
      '![x](//evil.example)',
      '<!-- x -->',
      'https://evil.example',
      '<a href="javascript:alert(1)">',
    ];
    for (const text of hostile) {
      const measure = planned('cup-inclination', 40, 'deg', {
        id: 'a',
        valueQuantity: { value: text, unit: text, system: 'http://unitsofmeasure.org', code: text },
        note: [{ text }],
        method: { text },
      });
      const call = orderCall({ measures: [measure, ...STEEP_PLAN], orders: [] });
      const { context } = orderCall({ measures: STEEP_PLAN });
      for (const { detail, summary } of cardsOf(await post(testApp(), ORDER_PATH, { ...call, context })))
        expect(detail + summary, text).not.toMatch(/<[A-Za-z/!]|\]\(|:\/\//);
    }
    for (const detail of [
      '<b>x</b>',
      'a <br> b',
      '</p>',
      '<!-- x -->',
      '[x](y)',
      'see https://x.example',
      ' ',
      '',
    ])
      expect(cardFaults({ ...cards[0], detail }), detail).not.toEqual([]);
    for (const detail of ['3 < 4 and 5 > 4', '**bold** *slanted*', 'a\n\nb', '<40 deg'])
      expect(cardFaults({ ...cards[0], detail }), detail).toEqual([]);
  });

  it('[C6] has one of three indicators, and the check before sending knows no other', () => {
    for (const { indicator } of cards) expect(['info', 'warning', 'critical']).toContain(indicator);
    for (const indicator of ['hard-stop', 'success', 'error', 'INFO', '', null, undefined])
      expect(cardFaults({ ...cards[0], indicator })).not.toEqual([]);
  });

  it('[C7, C8] names as its source the rulebook with its version, and no place', () => {
    for (const card of cards) {
      const source = member(card, 'source') as { readonly label: string };
      expect(source.label).toBe(rulebook.about.label);
      expect(source.label).toContain(rulebook.about.version);
    }
    for (const source of [
      undefined,
      {},
      { label: '' },
      { label: ' ' },
      { label: 'x', url: '/relative' },
      { label: 'x', icon: 'data:x' },
      { label: 'x', topic: 'y' },
    ])
      expect(cardFaults({ ...cards[0], source })).not.toEqual([]);
  });

  it('[C9] has a selection behavior beside its suggestions', () => {
    for (const card of cards) {
      expect(card.suggestions.length).toBeGreaterThan(0);
      expect(member(card, 'selectionBehavior')).toBe('at-most-one');
    }
    for (const selectionBehavior of [undefined, 'all', 'one', null])
      expect(cardFaults({ ...cards[0], selectionBehavior })).not.toEqual([]);
    const { suggestions, selectionBehavior, ...bare } = { ...cards[0] } as Record<string, unknown>;
    expect([suggestions, selectionBehavior]).not.toContain(undefined);
    expect(cardFaults(bare)).toEqual([]);
  });

  it('[C10] recommends none of its suggestions, and could recommend only one', () => {
    for (const card of cards)
      for (const suggestion of card.suggestions) {
        expect(suggestion.label.length).toBeGreaterThan(3);
        expect(suggestion).not.toHaveProperty('isRecommended');
      }
    const recommended = (count: number): object => ({
      ...cards[0],
      suggestions: [0, 1].map((index) => ({
        label: 'x',
        uuid: cards[0]?.uuid,
        isRecommended: index < count,
      })),
    });
    expect(cardFaults(recommended(1))).toEqual([]);
    expect(cardFaults(recommended(2))).not.toEqual([]);
  });

  it('[C12] selects no actions of a suggestion, and one that did would not leave', () => {
    for (const card of cards)
      for (const suggestion of card.suggestions)
        expect(suggestion).not.toHaveProperty('actionSelectionBehavior');
    const suggestions = [{ label: 'x', uuid: cards[0]?.uuid, actionSelectionBehavior: 'all' }];
    expect(cardFaults({ ...cards[0], suggestions })).not.toEqual([]);
  });

  it('[C23] writes nothing: its suggestions have no actions, and one that had would not leave', () => {
    for (const card of cards)
      for (const suggestion of card.suggestions)
        expect(Object.keys(suggestion).sort()).toEqual(['label', 'uuid']);
    const actions = [{ type: 'create', description: 'x', resource: { resourceType: 'ServiceRequest' } }];
    const suggestions = [{ label: 'x', uuid: cards[0]?.uuid, actions }];
    expect(cardFaults({ ...cards[0], suggestions })).not.toEqual([]);
  });

  it('[C16, C22] has override reasons with code, system and display, at most six', () => {
    for (const card of cards) {
      const reasons = members(card, 'overrideReasons');
      expect(reasons.length).toBeGreaterThan(0);
      expect(reasons.length).toBeLessThanOrEqual(6);
      for (const reason of reasons)
        for (const name of ['code', 'system', 'display']) expect(member(reason, name)).toMatch(/\S/);
      const topic = member(member(card, 'source') as object, 'topic') as object;
      for (const name of ['code', 'system', 'display']) expect(member(topic, name)).toMatch(/\S/);
    }
    const coding = { code: 'a', system: 'https://x.example', display: 'A' };
    for (const name of ['code', 'system', 'display']) {
      const overrideReasons = [Object.fromEntries(Object.entries(coding).filter(([key]) => key !== name))];
      expect(cardFaults({ ...cards[0], overrideReasons })).not.toEqual([]);
    }
    expect(cardFaults({ ...cards[0], overrideReasons: Array.from({ length: 7 }, () => coding) })).not.toEqual(
      [],
    );
  });

  it('[C18] has links with label, absolute address and type, where it has any', () => {
    expect(linked.flatMap((card) => members(card, 'links')).length).toBeGreaterThan(0);
    for (const card of linked)
      for (const link of members(card, 'links')) {
        expect(member(link, 'label')).toMatch(/\S/);
        expect(member(link, 'url')).toMatch(/^https:\/\/hip\.hospital\.example\//);
        expect(member(link, 'type')).toBe('absolute');
      }
    const link = { label: 'x', url: 'https://x.example/y', type: 'absolute' };
    expect(cardFaults({ ...cards[0], links: [link] })).toEqual([]);
    for (const wrong of [
      { label: undefined },
      { url: '/y' },
      { url: 'javascript:alert(1)' },
      { type: undefined },
      { type: 'relative' },
    ])
      expect(cardFaults({ ...cards[0], links: [{ ...link, ...wrong }] })).not.toEqual([]);
  });

  it('[C19] gives context to apps only, and none of it is given today', () => {
    for (const card of linked)
      for (const link of members(card, 'links')) expect(link).not.toHaveProperty('appContext');
    const link = { label: 'x', url: 'https://x.example/y', type: 'absolute', appContext: 'z' };
    expect(cardFaults({ ...cards[0], links: [link] })).not.toEqual([]);
    expect(cardFaults({ ...cards[0], links: [{ ...link, type: 'smart' }] })).toEqual([]);
  });

  it('[C20] starts nothing by itself', () => {
    for (const card of linked) expect(JSON.stringify(card)).not.toContain('autolaunchable');
    for (const autolaunchable of [true, false]) {
      const link = { label: 'x', url: 'https://x.example/y', type: 'absolute', autolaunchable };
      expect(cardFaults({ ...cards[0], links: [link] })).not.toEqual([]);
    }
  });
});

/** The rulebook with other words for answering cards that plan something. */
function saying(kept: string, intents: readonly ('planning' | 'check')[]): Advisor {
  const { about } = rulebook;
  const answers = { ...about.answers };
  for (const intent of intents) answers[intent] = { ...answers[intent], kept };
  return { ...shipped, rulebook: { ...rulebook, about: { ...about, answers } } };
}

describe('a card that no client could show', () => {
  const [path, call] = speakingCall('order-sign');

  it('[C24] is left out and logged, and the other cards are sent', async () => {
    const whole = rulesOf(cardsOf(await post(testApp(), path, call)));
    const { reply, lines } = await loggedCall(path, call, { advisor: saying('', ['planning']) });
    const sent = rulesOf(cardsOf(reply));
    expect(sent.length).toBeGreaterThan(0);
    expect(sent.length).toBeLessThan(whole.length);
    const left = whole.filter((rule) => !sent.includes(rule));
    const logged = lines.filter(({ msg }) => msg === 'rule could not be evaluated').map(({ rule }) => rule);
    expect(logged).toEqual(left);
    expect(JSON.stringify(lines)).toContain('suggestions: expected labels and UUIDs, no actions');
  });

  it('[C24] leaves a card in its place where nothing else is left: no answer would read as nothing found', async () => {
    const steep = orderCall({ measures: STEEP_PLAN });
    expect(rulesOf(cardsOf(await post(testApp(), path, steep)))).toEqual([
      'cup-inclination-outside-published',
    ]);
    const advisor = saying('', ['planning']);
    const [generic, ...others] = cardsOf(await post(testApp({ advisor }), path, steep));
    expect(others).toEqual([]);
    expect(generic?.source.topic.code).toBe('data-gap');
    expect(generic?.detail).toContain('could not be evaluated');
    expect(checkResponse({ cards: [generic] })).toEqual([]);
  });

  it('[C24] and cannot be told of either is an error of the service, not an answer without cards', async () => {
    problem(await post(testApp({ advisor: saying(' ', ['planning', 'check']) }), path, call), 500);
  });

  it('[C24] is known by every member it breaks, and a sound one by none', () => {
    const sound = cards[0];
    expect(cardFaults(sound)).toEqual([]);
    const broken: Readonly<Record<string, unknown>> = {
      uuid: 'card-1',
      summary: '',
      detail: 7,
      indicator: 'hard-stop',
      source: {},
      suggestions: [],
      overrideReasons: [{}],
      links: [],
      extension: [],
      systemActions: [{ type: 'create' }],
    };
    for (const [name, value] of Object.entries(broken))
      expect(cardFaults({ ...sound, [name]: value }), name).not.toEqual([]);
    for (const none of [null, [], 'card', 7, undefined]) expect(cardFaults(none)).not.toEqual([]);
    expect(cardFaults({ ...sound, extension: { 'x.y': { list: [] } } })).toEqual([
      'extension.x.y.list: expected a value or no member',
    ]);
  });

  it('[C24] is judged as the published examples are meant: good ones pass, and each published fault is found', () => {
    const published = (name: string): readonly object[] =>
      (
        JSON.parse(readPublished(`conformance/input/cdshooks-response-${name}.json`)) as {
          readonly cards: readonly object[];
        }
      ).cards;
    const own = { uuid: cards[0]?.uuid };
    for (const card of published('two-cards')) expect(cardFaults({ ...card, ...own })).toEqual([]);
    for (const card of published('empty-source'))
      expect(cardFaults({ ...card, ...own }).join()).toContain('source');
    for (const card of published('suggestion'))
      expect(cardFaults({ ...card, ...own }).join()).toContain('selectionBehavior');
  });

  it('[C24] is left out of whatever was made, by a check that has seen every card', () => {
    const instead = { ...cards[0] } as unknown as Card;
    const good = { ...cards[0] } as unknown as Card;
    const bad = { ...good, summary: 'x'.repeat(200) };
    const one = checkedCards([good, bad], () => instead);
    expect(one.cards).toEqual([good]);
    expect(one.faults.map(({ rule }) => rule)).toEqual([good.source.topic.code]);
    expect(checkedCards([], () => instead)).toEqual({ cards: [], faults: [] });
  });
});
