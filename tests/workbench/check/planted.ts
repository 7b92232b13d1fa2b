import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { COMPUTATIONS } from '../../../src/engine/computations.js';
import { isUcumUnit, ucumFactor } from '../../../src/facts/ucum.js';
import { checkRulebook } from '../../../src/workbench/check/check-rulebook.js';
import type { CheckInput, CheckResult } from '../../../src/workbench/check/check-rulebook.js';
import { readEvidence } from '../../../src/workbench/check/evidence.js';
import { readRuleTexts } from '../../../src/workbench/check/rule-texts.js';

const ROOT = fileURLToPath(new URL('../../../', import.meta.url));
export const RULES = join(ROOT, 'rules');
export const RECORDS = join(ROOT, 'tests/published/evidence/records.json');

export const shippedTexts = readRuleTexts(RULES);
const evidence = readEvidence(RECORDS);

export const units: CheckInput['units'] = {
  isUnit: isUcumUnit,
  isSameDimension: (a, b) => ucumFactor(a, b) !== undefined,
};

/** The text of a shipped file with the first occurrence of one piece replaced; throws where it does not occur. */
export function replaced(file: string, from: string, to: string): string {
  const text = shippedTexts.texts.get(file) ?? '';
  if (!text.includes(from)) throw new Error(`${file} holds no ${from}`);
  return text.replace(from, () => to);
}

/** Checks the shipped rulebook after some of its files became others, or were added. */
export function checkedWith(
  changed: Readonly<Record<string, string>>,
  more: Partial<Omit<CheckInput, 'rules'>> = {},
): Promise<CheckResult> {
  const texts = new Map([...shippedTexts.texts, ...Object.entries(changed)]);
  const files = [...texts].map(([path, text]) => ({ path, content: contentOf(text) }));
  return checkRulebook({
    rules: { pack: { files }, texts },
    computations: COMPUTATIONS,
    units,
    evidence,
    sample: { seed: 1, count: 0 },
    ...more,
  });
}

function contentOf(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return 'not JSON';
  }
}

/** The line on which a piece of text first stands, counted by hand: from 1. */
export function lineWith(text: string, piece: string): number {
  const line = text.split('\n').findIndex((one) => one.includes(piece));
  if (line < 0) throw new Error(`nowhere: ${piece}`);
  return line + 1;
}

interface RuleParts {
  readonly id: string;
  readonly appliesWhen?: unknown;
  readonly when: unknown;
  readonly findings?: readonly unknown[];
  readonly [member: string]: unknown;
}

export const leaf = (fact: string, operator: string, value: unknown): unknown => ({ fact, operator, value });
export const parameter = (id: string): unknown => ({ parameter: id });

export const finding = (more: Readonly<Record<string, unknown>> = {}): unknown => ({
  summary: ['a planted rule speaks'],
  found: ['planted'],
  options: ['no change', 'what only planted rules offer'],
  sure: 'common practice',
  notKnown: [],
  ...more,
});

/** A rule file in which nothing is wrong but what is planted. */
export function ruleText({ id, ...parts }: RuleParts): string {
  const rule = {
    id,
    version: '1.0.0',
    title: 'A planted rule',
    type: 'clinical',
    intent: 'planning',
    indicator: 'info',
    entries: ['order-sign'],
    reviewBy: '2027-11-01',
    appliesWhen: leaf('procedure-kind', 'one-of', ['primary', 'revision']),
    findings: [finding()],
    messages: {
      fires: 'Planted.',
      doesNotFire: 'Nothing planted.',
      notApplicable: 'Not about this.',
      cannotTell: 'Cannot tell whether it is planted.',
    },
    certainty: { why: 'planted' },
    basis: 'common practice, no source',
    ...parts,
  };
  return `${JSON.stringify(rule, null, 2)}\n`;
}
