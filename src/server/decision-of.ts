import { randomBytes } from 'node:crypto';
import { unmappedIn } from '../advice/index.js';
import type { Advice, AdviceInput } from '../advice/index.js';
import { CanonicalBytes } from '../base/canonical-bytes.js';
import { canonicalJson } from '../base/canonical-json.js';
import { listUuid } from '../base/hash.js';
import { asObject, asText } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Card } from '../render/card-types.js';
import type { DecisionRecord, KeptCard, KeptInput, KeptOutcome } from '../store/store.js';
import type { ServiceParts } from './app.js';
import { whoseIds } from './hook-request.js';
import type { Asked } from './hook-call.js';

type Answer = Extract<Advice, { kind: 'answer' }>;

/** The record of one answer: what was asked by whom, what was read, what every rule said, what was shown. */
export function decisionOf(
  advice: Answer,
  { input, asked }: { readonly input: AdviceInput; readonly asked: Asked },
  parts: Pick<ServiceParts, 'pseudonyms'>,
): DecisionRecord {
  const { service, iss, hookInstance, now, engine } = input;
  const { call, installation } = asked;
  const { rulebook } = installation.advisor;
  const { about, hash } = rulebook;
  const { record } = advice;
  const whose = whoseIds(call, iss);
  const salt = randomBytes(16).toString('base64');
  const canonical = new CanonicalBytes();
  return {
    id: advice.evaluationId?.() ?? listUuid([iss, service.id, service.hook, hookInstance, now, hash]),
    key: canonicalJson([iss, service.id, service.hook, hookInstance]),
    at: now,
    iss,
    ...(asked.caller.tenant !== undefined && { tenant: asked.caller.tenant }),
    service: service.id,
    hook: service.hook,
    hookInstance,
    patient: parts.pseudonyms.patient(whose.patient),
    user: parts.pseudonyms.user(whose.user),
    engine,
    rulebook: { version: about.version, hash },
    ...(input.site && { site: { id: input.site.id, version: input.site.version, hash: input.site.hash } }),
    recognised: record?.recognised ?? 'no',
    outcomes: outcomesOf(advice),
    cards: advice.cards.map(keptCard),
    sets: Object.entries(record?.sets ?? {}).map(([key, set]) => ({ key, ...set })),
    salt,
    inputs: inputsOf(advice, (name, content) => parts.pseudonyms.input(salt, canonical.of([name, content]))),
    unmapped: record ? unmappedIn(record, rulebook) : [],
    leniencies: [...call.leniencies, ...(record?.leniencies ?? [])],
    ...(advice.silent !== undefined && { silent: true as const }),
    ...(advice.withheld && { withheld: advice.withheld.map(keptCard) }),
    ...(advice.parameters && { parameters: advice.parameters }),
  };
}

/** What every rule said of every construct, and whether anybody was shown it. */
export function outcomesOf({ hips, cards }: Answer): readonly KeptOutcome[] {
  const shown = new Set(cards.map(cardKey));
  return hips.flatMap(({ advisories }) =>
    advisories.map(({ rule, ruleVersion, hip, construct, outcome }) => ({
      hip,
      construct,
      rule,
      ruleVersion,
      outcome,
      shown: shown.size > 0 && [hip, 'both'].some((one) => shown.has(`${rule} ${one} ${construct}`)),
    })),
  );
}

function told(card: Card): {
  readonly hip: string;
  readonly construct: string;
  readonly acknowledgement?: string;
} {
  const extension = card.extension['example.kotyle.advisory'];
  const acknowledgement = asText(extension['acknowledgement']);
  return {
    hip: asText(extension['hip']) ?? 'any',
    construct: asText(extension['construct']) ?? 'any',
    ...(acknowledgement !== undefined && { acknowledgement }),
  };
}

function cardKey(card: Card): string {
  const { hip, construct } = told(card);
  return `${card.source.topic.code} ${hip} ${construct}`;
}

/** A card as it is kept in a record. */
export function keptCard(card: Card): KeptCard {
  return { uuid: card.uuid, rule: card.source.topic.code, indicator: card.indicator, ...told(card) };
}

const FHIR_ID = /^[A-Za-z0-9\-.]{1,64}$/;
const INSTANT = /^\d{4}-\d{2}-\d{2}T[\d:.]{5,20}(?:Z|[+-]\d{2}:\d{2})$/;

/** A text of the form it should have; any other may be somebody's words, and is not kept. */
function fitting(value: unknown, form: RegExp): string | undefined {
  const text = asText(value);
  return text !== undefined && form.test(text) ? text : undefined;
}

/** Which resources were looked at and what became of each, known only by digest. */
function inputsOf(
  { record, hips }: Answer,
  digest: (name: string, content: unknown) => string,
): readonly KeptInput[] {
  if (!record) return [];
  const ignored = new Map(record.notes.map(({ from, why, kept }) => [from, kept ?? why]));
  const used = new Set([...record.operations, ...record.implanted].map(({ name }) => name));
  for (const { facts } of hips)
    for (const { provenance } of facts.values()) for (const name of provenance.from) used.add(name);
  return record.resources.map((located) => {
    const { resource } = located;
    const name = nameOf(located);
    const meta = asObject(resource['meta']);
    const versionId = fitting(meta?.['versionId'], FHIR_ID);
    const lastUpdated = fitting(meta?.['lastUpdated'], INSTANT);
    const why = ignored.get(name);
    return {
      digest: digest(name, resource),
      type: asText(resource['resourceType']) ?? 'Resource',
      ...(versionId !== undefined && { versionId }),
      ...(lastUpdated !== undefined && { lastUpdated }),
      used: used.has(name),
      ...(why !== undefined && { why }),
    };
  });
}
