import type { DATA_USES } from '../../rulebook/schema-parts.js';
import type { Rule, Rulebook } from '../../rulebook/types.js';
import { fullReference } from './reference.js';

export type DataUse = (typeof DATA_USES)[number];

/** The source attributes 5 to 13 of 45 CFR 170.315(b)(11)(iv)(A): number and name of each kind of data. */
export const DATA_USE_ATTRIBUTES: Readonly<
  Record<DataUse, { readonly number: number; readonly name: string }>
> = {
  race: { number: 5, name: 'use of race' },
  ethnicity: { number: 6, name: 'use of ethnicity' },
  language: { number: 7, name: 'use of language' },
  'sexual-orientation': { number: 8, name: 'use of sexual orientation' },
  'gender-identity': { number: 9, name: 'use of gender identity' },
  sex: { number: 10, name: 'use of sex' },
  'date-of-birth': { number: 11, name: 'use of date of birth' },
  'social-determinants': { number: 12, name: 'use of social determinants of health data' },
  'health-status-assessments': { number: 13, name: 'use of health status assessments data' },
};

export interface SourceAttribute {
  readonly number: number;
  readonly name: string;
  /** What is said of it; each item stands alone. */
  readonly says: readonly string[];
}

/** All 13 source attributes of one rule, the noes among them: "not used" is information. */
export function sourceAttributes(rule: Rule, rulebook: Rulebook): readonly SourceAttribute[] {
  const { about } = rulebook;
  const uses = Object.entries(DATA_USE_ATTRIBUTES).map(([use, { number, name }]): SourceAttribute => {
    const said = rule.uses?.[use as DataUse] ?? about.uses[use as DataUse];
    return { number, name, says: [`${said.used ? 'used' : 'not used'}: ${said.how}`] };
  });
  return [
    { number: 1, name: 'bibliographic citation', says: citationsOf(rule, rulebook) },
    { number: 2, name: 'developer', says: [about.developer] },
    { number: 3, name: 'funding source of the technical implementation', says: [about.funding] },
    { number: 4, name: 'release and revision dates', says: datesOf(rule, rulebook) },
    ...uses,
  ];
}

function citationsOf({ citations, basis }: Rule, rulebook: Rulebook): readonly string[] {
  const cited = (citations ?? []).map(({ key }) => fullReference(key, rulebook));
  return basis === undefined ? cited : [...cited, basis];
}

function datesOf(
  { version, released, revised, review, reviewBy }: Rule,
  { about }: Rulebook,
): readonly string[] {
  return [
    `version ${version}, released ${released ?? 'on a date not stated'}, ${revised ? `revised ${revised.join(', ')}` : 'not revised since'}`,
    `rulebook ${about.version}, ${about.date}`,
    review?.state === 'reviewed' ? `last review ${review.on}` : 'not yet reviewed by a clinician',
    `to be reviewed by ${reviewBy}`,
  ];
}
