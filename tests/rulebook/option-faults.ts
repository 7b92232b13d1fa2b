import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import type { Rulebook } from '../../src/rulebook/types.js';
import { shippedPack } from './shipped.js';

/** What a planted fault needs to know of a rule file. */
interface Finding {
  readonly node?: string;
  readonly construct?: string;
  readonly options?: readonly string[];
  readonly summary: readonly string[];
  readonly checks?: readonly string[];
}

interface RuleContent {
  readonly id: string;
  readonly findings: readonly Finding[];
  readonly when: unknown;
  readonly effects?: readonly { readonly says: string }[];
  readonly [member: string]: unknown;
}

type Change = (rule: RuleContent) => RuleContent;

/** For every law, a rulebook that breaks it: one rule of the shipped one changed, or all that say one thing. */
export const FAULTS: Readonly<Record<string, readonly Planted[]>> = {
  'stiff spine, pelvis fixed in posterior tilt: no option adds anteversion': [
    { what: 'more anteversion offered', rule: 'spine-phenotype', change: offering('more cup anteversion') },
    {
      what: 'more anteversion offered with an exception that is met',
      rule: 'spine-phenotype',
      change: offering('more cup anteversion, unless pelvis fixed in posterior tilt'),
    },
  ],
  'stiff spine, pelvis fixed in posterior tilt: margins standing and seated are both printed': [
    {
      what: 'two cups that look the same',
      rule: 'spine-phenotype',
      change: (rule) => JSON.parse(JSON.stringify(rule).replaceAll('seated cup', 'cup')) as RuleContent,
    },
  ],
  'hypermobile pelvis: no option adds anteversion or inclination': [
    { what: 'more inclination offered', rule: 'spine-phenotype', change: offering('more inclination') },
  ],
  'only a standing film: the phenotype can not be told, and the seated film is asked for': [
    { what: 'a phenotype by the standing film', rule: 'spine-phenotype', change: withoutMobility },
  ],
  'retroverted stem: stem options first, cup compensation up to 34° at most and called partial': [
    { what: 'the cup before the stem', rule: 'stem-anteversion-low', change: stemLast },
    {
      what: 'a cup turned without limit',
      rule: 'stem-anteversion-low',
      change: offering('more cup anteversion'),
    },
  ],
  'weak abductors: no option below the native offset, and dual mobility or constraint among them': [
    { what: 'less offset', rule: 'abductor-loss', change: offering('low-offset stem') },
    { what: 'no other bearing', rule: 'abductor-loss', change: without(/dual mobility/) },
    { what: 'native offset not named', rule: 'abductor-loss', change: without(/offset at or above native/) },
  ],
  'dual mobility and constraint stand with their price, in figures': [
    {
      what: 'the figure of constraint left out',
      rule: 'abductor-loss',
      change: (rule) => ({
        ...rule,
        effects: (rule.effects ?? []).filter(({ says }) => !says.startsWith('constrained')),
      }),
    },
    {
      what: 'no word on a price',
      rule: 'spine-phenotype',
      change: rewritten((text) => text.replace(', price below', '')),
    },
  ],
  'steep cup: lower inclination is listed before a larger head': [
    { what: 'the head first', rule: 'cup-inclination-outside-published', change: headFirst },
  ],
  'skirted long neck: a shorter neck only where the length can be given up, else another way to the length': [
    {
      what: 'a shorter neck and no word on length',
      rule: 'head-neck-ratio-low-with-trigger',
      change: offering('high-offset stem with a shorter neck'),
    },
  ],
  'posterior approach with anteversion of 20° or less: no option lowers it': [
    {
      what: 'less anteversion',
      rule: 'combined-anteversion-outside-published',
      change: offering('less cup anteversion'),
    },
  ],
  'posterior approach: soft-tissue repair is among the options wherever version is': [
    { what: 'no repair anywhere', rule: /./, change: without(/repair/) },
  ],
  'elevated rim: only with a position and a known direction, never behind when the hip leaves in front': [
    {
      what: 'a rim without a position',
      rule: 'head-neck-ratio-low-with-trigger',
      change: offering('elevated rim'),
    },
    {
      what: 'a rim behind, whichever way the hip leaves',
      rule: 'head-neck-ratio-low-with-trigger',
      change: offering('elevated rim, posterior'),
    },
  ],
  'a constrained liner is never first, and least of all where the cup is malpositioned': [
    {
      what: 'constraint first',
      rule: 'earlier-dislocation-or-revision',
      change: rewrittenList((options) => [
        ...options.filter((text) => /^no change/.test(text)),
        ...options.filter((text) => /constrained/.test(text)),
        ...options.filter((text) => !/constrained|^no change/.test(text)),
      ]),
    },
  ],
  'fracture of the femoral neck: hemiarthroplasty is among the options': [
    { what: 'no hemiarthroplasty anywhere', rule: /./, change: without(/hemiarthroplasty/) },
  ],
  'unstable hip, direction not known: no orientation is offered': [
    {
      what: 'a flatter cup',
      rule: 'cup-inclination-outside-published',
      change: offering('{cup-inclination-classical-center}'),
    },
    {
      what: 'another stem',
      rule: 'stem-anteversion-low',
      change: offering('stem first: cemented or modular'),
    },
  ],
  'unstable or failed hip: infection markers before mechanics': [
    { what: 'no infection markers anywhere', rule: /./, change: without(/infection/) },
  ],
  'in place without instability or failure: no change, measurement, follow-up and discussion, nothing else': [
    { what: 'a revision', rule: 'cup-inclination-outside-published', change: offering('cup revision') },
    {
      what: 'a flatter cup',
      rule: 'cup-anteversion-outside-published',
      change: offering('flatter cup'),
    },
  ],
  'cards about identity, side and data carry checks and never "no change"': [
    {
      what: 'a side left as it is',
      isRefused: true,
      rule: 'hip-side-conflict',
      change: eachFinding((one) => ({ ...one, checks: [...(one.checks ?? []), 'no change'] })),
    },
    {
      what: 'options of a data card',
      rule: 'measure-implausible-or-conflicting',
      change: eachFinding(({ checks = [], ...one }) => ({ ...one, options: ['no change', ...checks] })),
    },
  ],
  'every list of options begins with "no change"': [
    {
      what: 'none to keep the plan',
      isRefused: true,
      rule: 'abductor-loss',
      change: without(/^no change$/),
    },
    {
      what: 'keeping the plan last',
      rule: 'abductor-loss',
      change: rewrittenList(([first = '', ...others]) => [...others, first]),
    },
  ],
  'no rule breaks, and whatever fires can be worded': [
    {
      what: 'a summary with a number that may not be known',
      rule: 'neurological-disease',
      change: eachFinding((one) => ({ ...one, summary: ['cup {cup-inclination} in a hip of this kind'] })),
    },
  ],
  'what is read of the options is what is printed, one for one': [
    {
      what: 'an option in two parts',
      rule: 'abductor-loss',
      change: offering('slimmer neck · stem revision'),
    },
  ],
  'no two rules point opposite ways unsaid': [
    {
      what: 'more beside less anteversion',
      rule: 'cup-anteversion-outside-published',
      change: offering('more cup anteversion'),
    },
  ],
};

export interface Planted {
  readonly what: string;
  /** The loader refuses such a rulebook before any hip is asked. */
  readonly isRefused?: true;
  readonly rule: string | RegExp;
  readonly change: Change;
}

/** The shipped rulebook with the fault in it; undefined where it is not even loaded so. */
export function faulty({ rule, change }: Planted): Rulebook | undefined {
  const isMeant = (path: string): boolean =>
    path.startsWith('advisories/') &&
    (typeof rule === 'string' ? path.endsWith(`/${rule}.json`) : rule.test(path));
  const files = shippedPack.files.map(({ path, content }) => ({
    path,
    content: isMeant(path) ? change(content as RuleContent) : content,
  }));
  const built = buildRulebook({ files }, COMPUTATION_IDS);
  return built.ok ? built.rulebook : undefined;
}

function eachFinding(change: (finding: Finding) => Finding): Change {
  return (rule) => ({ ...rule, findings: rule.findings.map(change) });
}

function rewrittenList(change: (options: readonly string[]) => readonly string[]): Change {
  return eachFinding((one) => (one.options ? { ...one, options: change(one.options) } : one));
}

function rewritten(change: (text: string) => string): Change {
  return rewrittenList((options) => options.map(change));
}

function offering(text: string): Change {
  return rewrittenList((options) => [...options, text]);
}

/** A list with nothing left in it keeps its first option: a finding needs one. */
function without(piece: RegExp): Change {
  return eachFinding((one) => {
    const left = (list: readonly string[]): readonly string[] => {
      const kept = list.filter((text) => !piece.test(text));
      return kept.length > 0 ? kept : list;
    };
    return {
      ...one,
      ...(one.options && { options: left(one.options) }),
      ...(one.checks && { checks: left(one.checks) }),
    };
  });
}

function stemLast(rule: RuleContent): RuleContent {
  return rewrittenList((options) => [
    ...options.filter((text) => !text.startsWith('stem ')),
    ...options.filter((text) => text.startsWith('stem ')),
  ])(rule);
}

function headFirst(rule: RuleContent): RuleContent {
  return rewrittenList(([first = '', ...others]) => [
    first,
    'a larger head',
    ...others.filter((text) => !text.includes('larger head')),
  ])(rule);
}

/** The rule no longer asks how far the pelvis moves: a documented fusion and a standing film are enough for it. */
function withoutMobility(rule: RuleContent): RuleContent {
  const text = JSON.stringify(rule.when).replaceAll(
    '{"fact":"spinopelvic-mobility","operator":"at-most","value":{"parameter":"spinopelvic-mobility-hypermobile"}},',
    '',
  );
  return { ...rule, when: JSON.parse(text) as unknown };
}
