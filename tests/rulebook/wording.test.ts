import { describe, expect, it } from 'vitest';
import type { Condition, Finding, Rule } from '../../src/rulebook/types.js';
import { CLEARANCE, COMMANDS, OBLIGATIONS, PROMISES } from '../../src/workbench/check/wording.js';
import { evidenceParameters, recordNamed } from './evidence.js';
import { shipped } from './shipped.js';

const rules = shipped.rules.map((rule) => [rule.id, rule] as const);
const planning = rules.filter(([, rule]) => rule.intent === 'planning');
const checking = rules.filter(([, rule]) => rule.intent === 'check');

function offered(finding: Finding): readonly string[] {
  return [
    ...(finding.options ?? []),
    ...(finding.checks ?? []),
    ...(finding.before ?? []).map(({ says }) => says),
    ...(finding.ready === undefined ? [] : [finding.ready]),
  ];
}

/** The parameters a condition compares with; what only sets a case aside, under `not`, is no limit of it. */
function limitsOf(condition: Condition): readonly string[] {
  if (condition.kind === 'not') return [];
  if (condition.kind !== 'leaf') return condition.children.flatMap(limitsOf);
  return condition.limit.parameter === undefined ? [] : [condition.limit.parameter];
}

function speaksAtBookingOnly({ entries }: Rule): boolean {
  return entries.every((entry) => entry === 'appointment-book');
}

/** Every sentence a rule can put before a reader. */
function everyWord(rule: Rule): readonly string[] {
  return [
    rule.title,
    ...Object.values(rule.messages),
    ...rule.findings.flatMap((finding) => [
      ...finding.summary,
      ...finding.found,
      ...offered(finding),
      finding.sure,
      ...finding.notKnown.map(({ says }) => says),
    ]),
    ...(rule.effects ?? []).map(({ says }) => says),
  ];
}

describe('the wording of a rule', () => {
  it.each(rules)('%s begins no option, check or preparation with a command', (_id, rule) => {
    // Truth: the project's design, safety: advice, not orders.
    const found = rule.findings.flatMap(offered);
    expect(found.length).toBeGreaterThan(0);
    expect(found.filter((text) => COMMANDS.test(text))).toEqual([]);
  });

  it.each(rules)('%s never says that something must be done', (_id, rule) => {
    // Truth: the project's design, safety; clinical judgement decides.
    expect(everyWord(rule).filter((text) => OBLIGATIONS.test(text))).toEqual([]);
  });

  it.each(rules)('%s states no probability and no score', (_id, rule) => {
    // Truth: the project's design: no invented score, no probability, effects never combined. Nothing is called safe;
    // that no safe limit is known may be said (clinical decisions §4, the note on the nerve).
    expect(everyWord(rule).filter((text) => PROMISES.test(text))).toEqual([]);
  });

  it.each(planning)('%s offers "no change" first wherever it offers options', (_id, rule) => {
    // Truth: clinical decisions §2: "no change" is an option on planning cards.
    const lists = rule.findings.flatMap(({ options }) => (options ? [options] : []));
    // A rule that speaks to a scheduler alone prepares and offers nothing.
    if (speaksAtBookingOnly(rule)) expect(lists).toEqual([]);
    else expect(lists.length).toBeGreaterThan(0);
    expect(lists.map(([first]) => first)).toEqual(lists.map(() => 'no change'));
    // Clinical decisions §2: of a hip in place with trouble on record only the order of the work-up is told.
    const checked = rule.findings.filter(({ checks }) => checks);
    expect(checked.filter(({ construct }) => construct !== 'in-place').map(({ summary }) => summary)).toEqual(
      [],
    );
    expect(checked.flatMap(({ checks }) => checks ?? []).filter((text) => /no change/i.test(text))).toEqual(
      [],
    );
    expect(checked.filter(({ options }) => options)).toEqual([]);
  });

  it.each(checking)('%s has checks, no options, and no word of "no change"', (_id, rule) => {
    // Truth: clinical decisions §2: cards about identity, side or data carry checks and never "no change".
    expect(rule.findings.every(({ checks }) => (checks?.length ?? 0) > 0)).toBe(true);
    expect(rule.findings.flatMap(({ options }) => options ?? [])).toEqual([]);
    expect(rule.findings.flatMap(offered).filter((text) => /no change/i.test(text))).toEqual([]);
  });

  it.each(rules)('%s has four messages that differ', (_id, rule) => {
    // Truth: style of the project, §7: four outcomes, each with its wording.
    const { fires, doesNotFire, notApplicable, cannotTell } = rule.messages;
    expect(new Set([fires, doesNotFire, notApplicable, cannotTell]).size).toBe(4);
    expect(cannotTell).toMatch(/^Cannot tell/);
    for (const message of [fires, doesNotFire, notApplicable]) expect(message).not.toMatch(/cannot tell/i);
  });

  it.each(rules)('%s calls nothing stable, safe or cleared when it does not fire', (_id, rule) => {
    // Truth: clinical decisions §1: no card is not clearance.
    expect(`${rule.messages.doesNotFire} ${rule.messages.notApplicable}`).not.toMatch(CLEARANCE);
  });

  it.each(rules)('%s states how sure it is, mechanism apart from clinical evidence', (_id, rule) => {
    // Truth: clinical decisions §3, the line "Sure?"; a graded certainty stands in the words with its grade.
    for (const { sure } of rule.findings) {
      expect(sure.trim()).not.toBe('');
      if (rule.certainty.mechanism === 'model') expect(sure).toMatch(/^mechanism: model/);
      if (rule.certainty.mechanism === undefined) expect(sure).not.toMatch(/mechanism/);
    }
    if (rule.type !== 'clinical')
      expect(rule.certainty.prognosis ?? rule.certainty.treatment).toBeUndefined();
  });

  it.each(rules)('%s says "common practice" where it rests on a limit without a source', (_id, rule) => {
    // Truth: the audit of the evidence: each card built on one must use the words "common practice".
    const unsourced = [...limitsOf(rule.appliesWhen), ...limitsOf(rule.when)].filter(
      (id) => shipped.parameters.get(id)?.readAt === 'common practice, no source',
    );
    const named = rule.findings.every((finding) =>
      /common practice/.test([finding.sure, ...finding.found, ...offered(finding)].join(' ')),
    );
    if (unsourced.length > 0) expect(named, unsourced.join(', ')).toBe(true);
    else expect(unsourced).toEqual([]);
  });

  it('defers to clinical judgement in one line, the same on every card', () => {
    // Truth: the project's design: each card ends with one deferral line.
    expect(shipped.about.deferral).toMatch(/licensed clinicians/);
    expect(shipped.about.deferral).toMatch(/clinical judgement/);
    expect(shipped.about.deferral).toMatch(/Not for emergencies/);
    expect(shipped.about.status).toBe('draft');
    expect(shipped.about.experimental).toBe(true);
    expect(shipped.about.label).toMatch(/draft, experimental/);
  });

  it('explains silence once, in each service description', () => {
    // Truth: clinical decisions §1: no card is not clearance.
    for (const service of Object.values(shipped.about.services))
      expect(service.description).toMatch(/No card is not clearance/);
  });
});

describe('the indicator of a rule', () => {
  it('is critical for identity and side conflicts, and for nothing else', () => {
    // Truth: clinical decisions §3.
    const critical = rules.filter(([, rule]) => rule.indicator === 'critical').map(([, rule]) => rule.type);
    expect(critical.length).toBeGreaterThanOrEqual(2);
    expect(
      rules
        .filter(([, { type }]) => type === 'side' || type === 'identity')
        .map(([, rule]) => rule.indicator),
    ).toEqual(critical.map(() => 'critical'));
  });

  it('is warning for impossible or conflicting values, a cup outside every published range and confirmed retroversion', () => {
    // Truth: clinical decisions §3, the whole list of warnings.
    expect(rules.filter(([, rule]) => rule.indicator === 'warning').map(([id]) => id)).toEqual([
      'cup-anteversion-outside-published',
      'cup-inclination-outside-published',
      'cup-retroversion-confirmed',
      'measure-implausible-or-conflicting',
    ]);
  });

  it('never rises above info on a booking card that only the patient’s history opens', () => {
    // Truth: clinical decisions §1: a scheduler reads it: logistic wording, info, no implant choice.
    for (const [id, rule] of rules.filter(
      ([, { type, entries }]) => type === 'clinical' && entries.includes('appointment-book'),
    )) {
      expect(rule.indicator, id).toBe('info');
      const booking = speaksAtBookingOnly(rule)
        ? rule.findings
        : rule.findings.filter(({ entries }) => entries?.includes('appointment-book'));
      expect(booking.length, id).toBeGreaterThan(0);
      for (const finding of booking) {
        expect(finding.before?.length, id).toBeLessThanOrEqual(3);
        expect(finding.options, id).toBeUndefined();
        expect(offered(finding).join(' '), id).not.toMatch(/dual mobility|constrained|larger head|\bcup\b/i);
      }
    }
  });
});

/**
 * Numbers written into the words of a rule that are in no record behind it, each with its reason. Everything else that
 * is a number must come from a record the rule, its effects or its parameters name.
 */
const OWN_NUMBERS: readonly { readonly rule: string; readonly number: string; readonly why: string }[] = [
  { rule: 'failed-fixation-conversion', number: '5', why: 'muscle strength is graded 0 to 5, by definition' },
  { rule: 'metal-debris-in-place', number: '5', why: 'muscle strength is graded 0 to 5, by definition' },
  { rule: 'metal-debris-reaction', number: '5', why: 'muscle strength is graded 0 to 5, by definition' },
  { rule: 'pelvic-irradiation', number: '5', why: 'muscle strength is graded 0 to 5, by definition' },
  { rule: 'tumor-about-the-hip', number: '38', why: 'the record spells it: thirty-eight studies' },
  { rule: 'neurological-disease', number: '5', why: 'muscle strength is graded 0 to 5, by definition' },
  { rule: 'neurological-disease', number: '0', why: 'muscle strength is graded 0 to 5, by definition' },
  { rule: 'neurological-disease', number: '38', why: 'the record spells it: thirty-eight studies' },
  { rule: 'abductor-loss', number: '38', why: 'the record spells it: thirty-eight studies' },
  {
    rule: 'root-or-stenosis-with-weak-abductors',
    number: '1',
    why: 'the roots L4 to S1: anatomy, common practice',
  },
  {
    rule: 'earlier-dislocation-or-revision',
    number: '38',
    why: 'the record spells it: thirty-eight studies',
  },
];

/** The level of a confidence interval is not a finding. */
const LEVEL = /95 % CI/g;
const NUMBER = /\d+(?:\.\d+)?/g;

function numbersIn(text: string): readonly string[] {
  return [
    ...text
      .replaceAll(/\{[^}]*\}/g, '')
      .replaceAll(LEVEL, '')
      .matchAll(NUMBER),
  ].map(([number]) => number);
}

/** All numbers of the records and parameters a rule stands on, as texts and as values. */
function numbersBehind(rule: Rule): ReadonlySet<string> {
  const named = [
    ...JSON.stringify(rule).matchAll(/"parameter":"([^"]+)"/g),
    ...JSON.stringify(rule.findings).matchAll(/\{([a-z0-9-]+)/g),
  ].map(([, id]) => id ?? '');
  const parameters = named.flatMap((id) => shipped.parameters.get(id) ?? []);
  const keys = [
    ...(rule.citations ?? []).map(({ key }) => key),
    ...(rule.effects ?? []).flatMap(({ citations }) => citations),
    ...parameters.flatMap(({ citations }) => citations),
  ];
  const records = keys
    .flatMap((key) => shipped.citations.get(key)?.records ?? [])
    .map(recordNamed)
    .map((read) => ({ ...read, id: undefined, citation: undefined, source_url: undefined }));
  const entries = parameters.flatMap(({ id }) => evidenceParameters.get(id) ?? []);
  return new Set(
    [...JSON.stringify([records, entries]).matchAll(NUMBER)].map(([number]) => String(Number(number))),
  );
}

describe('every number written into a rule', () => {
  const written = rules.flatMap(([id, rule]) =>
    [
      ...rule.findings.flatMap((finding) => [
        ...finding.summary,
        ...finding.found,
        ...offered(finding),
        finding.sure,
      ]),
      ...(rule.effects ?? []).map(({ says }) => says),
    ].flatMap((text) => numbersIn(text).map((number) => [id, number, text, rule] as const)),
  );

  it('is looked at', () => {
    expect(written.length).toBeGreaterThan(10);
  });

  it.each(written)(
    '%s: %s in "%s" stands in a record behind it, or in the table of our own numbers',
    (id, number, _text, rule) => {
      // Truth: published, the records of the evidence dossier.
      const own = OWN_NUMBERS.some((entry) => entry.rule === id && entry.number === number);
      expect(own || numbersBehind(rule).has(String(Number(number)))).toBe(true);
    },
  );

  it('that is our own is still written', () => {
    // Truth: closed form; a table that outlives its reason would hide the next number.
    for (const { rule, number } of OWN_NUMBERS) {
      expect(
        written.some(([id, found]) => id === rule && found === number),
        `${rule} ${number}`,
      ).toBe(true);
    }
  });
});
