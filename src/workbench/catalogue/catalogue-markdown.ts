import { bullets, code, page, plain, table } from '../../render/evidence/markdown.js';
import { parameterTable } from '../../render/evidence/evidence-markdown.js';
import { HOOK_TITLES, OUTCOME_TITLES, OUTCOMES } from '../../render/words.js';
import { percentText } from '../report/burden-figures.js';
import { atShare } from './burden-limits.js';
import type { Burden, ProfileBurden, RuleBurden } from './burden-schema.js';
import type { Catalogue, CatalogueRow } from './catalogue.js';

/** The catalogue as the page that stands beside the rules. */
export function catalogueMarkdown(catalogue: Catalogue): string {
  const { rulebook, subjects, burden } = catalogue;
  return page([
    ['# The rules'],
    ['<!-- Written by `npm run catalogue` from the rulebook and fixtures; changes made here are lost. -->'],
    [`${rulebook.rules} rules, ${plain(rulebook.label)}, ${rulebook.date}.`],
    ...howToRead(burden),
    ...subjects.flatMap(({ subject, rules }) => [
      [`## ${subject[0]?.toUpperCase() ?? ''}${subject.slice(1)}`],
      ruleTable(rules, burden.whole.count),
    ]),
    ...burdenParts(catalogue),
    ...alikeParts(catalogue),
    ...questionParts(catalogue),
  ]);
}

function howToRead({ whole, seed }: Burden): readonly (readonly string[])[] {
  return [
    ['## How to read this'],
    bullets([
      'One line is one rule, in the folder of `advisories/` that its heading names. Its title leads to its evidence page: conditions in words, options, effects, limits, sources, the 13 source attributes.',
      '_Limits_: what its conditions compare with; value, how far its source was read, how certain it is. “Common practice” and “proposal” mean that nothing was read for it.',
      '_Sources_: in brackets how far each was read; “abstract” means that methods and subgroups were not.',
      '_Certain_: the mechanism is computed by a model or it is not; prognosis and treatment by GRADE, apart from each other.',
      '_Speaks_: where, and how loud. “Page only” is evaluated and never a card; “a line on another card” is told beside the first card of the same hip, where there is one; “leaves the word to” means that the other rule’s card, where there is one for the same hip, is shown instead.',
      '_Held by_: test patients who must get its card, and edge cases for each outcome (`fixtures/patients`, `fixtures/edges`).',
      `_Burden_: of ${whole.count} record-like bookings and ${whole.count} fully planned hips, invented by \`kotyle synthesize\` with seed ${seed}, the share in which it fires, and the share who see its card (booking; order being signed). Invented hips are nobody’s: the shares show what a change of the rules does, not how patients are.`,
    ]),
  ];
}

function ruleTable(rules: readonly CatalogueRow[], count: number): readonly string[] {
  return table(
    ['Rule', 'Says', 'Limits', 'Sources', 'Certain', 'Speaks', 'Held by', 'Burden'],
    rules.map((row) => [
      `[${plain(row.title)}](evidence/${row.rule}.md)<br>${code(row.rule)} ${row.version}, ${row.review}`,
      plain(row.says),
      lines(
        row.limits.map(
          ({ id, value, readAt, certainty }) => `${code(id)} ${plain(value)}; ${readAt}; ${certainty}`,
        ),
      ),
      lines([
        ...row.sources.map(({ short, readAt }) => `${plain(short)} (${readAt})`),
        ...(row.basis === undefined ? [] : [plain(row.basis)]),
      ]),
      lines(row.certainty),
      lines([
        row.tells === undefined
          ? row.indicator
          : row.tells === 'page'
            ? 'page only'
            : 'a line on another card',
        row.entries.map((entry) => HOOK_TITLES[entry].toLowerCase()).join(', '),
        ...(row.yieldsTo.length === 0 ? [] : [`leaves the word to ${row.yieldsTo.map(code).join(', ')}`]),
      ]),
      lines([
        ...(row.patients.length === 0 ? [] : [plain(row.patients.join(', '))]),
        `edges: ${OUTCOMES.map((outcome) => `${OUTCOME_TITLES[outcome]} ${row.edges[outcome]}`).join(', ')}`,
      ]),
      lines([
        `booking ${sharesOf(row.burden.recordLike, count)}`,
        `planned ${sharesOf(row.burden.fullyPlanned, count)}`,
      ]),
    ]),
  );
}

function lines(items: readonly string[]): string {
  return items.join('<br>');
}

function sharesOf({ fires, cards }: RuleBurden, count: number): string {
  return `${percentText(fires, count)} / ${percentText(cards, count)}`;
}

function burdenParts({ burden, burdenLimits }: Catalogue): readonly (readonly string[])[] {
  const { whole, seed, now } = burden;
  return [
    ['## What it costs attention'],
    [
      `${whole.count} record-like bookings (nearly none with any measure) and the same ${whole.count} hips fully planned, seed ${seed}, as of ${now.slice(0, 10)}.`,
    ],
    table(
      [
        'Records',
        'Call',
        'Calls',
        'No card',
        'Median',
        '95th percentile',
        'With a warning or worse',
        'Over the ceiling',
      ],
      [...hookRows('record-like', whole.recordLike), ...hookRows('fully planned', whole.fullyPlanned)],
    ),
    table(
      ['Limit', 'Found', 'Holds'],
      burdenLimits.map(({ says, found, holds }) => [plain(says), plain(found), holds ? 'yes' : '**no**']),
    ),
  ];
}

function hookRows(records: string, { hooks }: ProfileBurden): readonly (readonly string[])[] {
  return hooks.map((figures) => [
    records,
    HOOK_TITLES[figures.hook].toLowerCase(),
    String(figures.calls),
    percentText(figures.callsByCards[0] ?? 0, figures.calls),
    String(atShare(figures, 0.5)),
    String(atShare(figures, 0.95)),
    percentText(figures.callsWithWarning, figures.calls),
    percentText(figures.overCeiling, figures.calls),
  ]);
}

function alikeParts({ alike, burden }: Catalogue): readonly (readonly string[])[] {
  return [
    ['## Rules that fire alike'],
    [
      `Pairs that both fire on more than 95 % of those of the ${burden.whole.count} fully planned hips on which at least one does. “Same” counts the hips on which both fire or both do not: for rare rules it is nearly all, and tells little.`,
    ],
    alike.length === 0
      ? ['None.']
      : table(
          ['Rules', 'Both of either', 'Same', 'Why both stay'],
          alike.map(({ rules, both, either, agree, reason }) => [
            lines(rules.map(code)),
            `${both} of ${either} (${percentText(both, either)})`,
            percentText(agree, burden.whole.count),
            plain(reason ?? 'no reason given'),
          ]),
        ),
  ];
}

function questionParts({ signOff, conflicts }: Catalogue): readonly (readonly string[])[] {
  return [
    ['## What clinicians should decide first'],
    ['No clinician has signed any limit yet; these matter most.'],
    ...signOff.flatMap(({ parameters, question, rules }, index) => [
      [
        `**${index + 1}.** ${plain(question)} ${rules.length === 0 ? '' : `In ${rules.map((rule) => `[${code(rule)}](evidence/${rule}.md)`).join(', ')}.`}`.trim(),
      ],
      parameterTable(parameters),
    ]),
    ['## Where the sources disagree'],
    bullets(conflicts.map(({ says, sources }) => `${plain(says)} (${plain(sources.join('; '))})`)),
  ];
}
