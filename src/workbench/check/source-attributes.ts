import type { ParsedPack } from '../../rulebook/parse-pack.js';
import type { Fault } from './finding.js';

interface SourceAttribute {
  readonly number: number;
  readonly name: string;
  /** What facts that use such data would be called. */
  readonly facts?: RegExp;
}

/** The 13 source attributes of an evidence-based intervention, 45 CFR 170.315(b)(11)(iv)(A), that no file has a place for. */
const WITHOUT_A_PLACE: readonly SourceAttribute[] = [
  { number: 2, name: 'developer' },
  { number: 3, name: 'funding source' },
  { number: 5, name: 'use of race', facts: /^race\b/ },
  { number: 6, name: 'use of ethnicity', facts: /^ethnic/ },
  { number: 7, name: 'use of language', facts: /^language\b/ },
  { number: 8, name: 'use of sexual orientation', facts: /^sexual-orientation/ },
  { number: 9, name: 'use of gender identity', facts: /^gender/ },
  { number: 10, name: 'use of sex', facts: /^(?:birth-)?sex$/ },
  { number: 11, name: 'use of date of birth', facts: /^age\b|^(?:date-of-birth|birth-date)$/ },
  {
    number: 12,
    name: 'use of social determinants of health',
    facts: /^(?:income|housing|education|insurance)/,
  },
  {
    number: 13,
    name: 'use of health status assessments',
    facts: /(?:score|scale|questionnaire|frailty|assessment)/,
  },
];

/**
 * Which source attributes rules do not supply. Bibliographic citation (1) is a rule's citations or its stated basis;
 * release and revision dates (4) are those of the rulebook, whose list of changes names each version.
 */
export function checkAttributes(parsed: ParsedPack): readonly Fault[] {
  const read = new Set(parsed.facts.map(({ value }) => value.id));
  const base = { check: 'attributes' as const, severity: 'note' as const, file: 'rulebook.json', path: '' };
  const named = WITHOUT_A_PLACE.map(({ number, name, facts }) => {
    const used = facts ? [...read].filter((id) => facts.test(id)) : [];
    return `${number} ${name}${used.length > 0 ? ` (facts: ${used.join(', ')})` : ''}`;
  });
  const missing: readonly Fault[] = [
    {
      ...base,
      expected: 'the 13 source attributes of 45 CFR 170.315(b)(11) stated for each rule',
      found: `no place for these in any of ${parsed.rules.length} rules: ${named.join('; ')}`,
    },
  ];
  const about = parsed.about?.value;
  const isListed = about?.changes.some(({ version }) => version === about.version) ?? false;
  if (!about || isListed) return missing;
  return [
    ...missing,
    {
      ...base,
      severity: 'error',
      path: 'changes',
      expected: `source attribute 4, release date: an entry for version ${about.version}`,
      found: 'none',
    },
  ];
}
