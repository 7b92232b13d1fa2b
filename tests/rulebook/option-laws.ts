import { conditionFacts } from '../../src/rulebook/condition-facts.js';
import type { Finding, Operator, Rule } from '../../src/rulebook/types.js';
import type { Fact } from '../../src/facts/fact.js';
import type { Direction, OptionKind, Sense, Subject } from '../../src/workbench/check/directions.js';
import { exactFact, knownFact, unknownFact } from '../../src/workbench/check/edge-values.js';
import type { ReadOption } from '../../src/workbench/check/option-directions.js';
import type { Goal } from '../../src/workbench/check/search.js';
import type { Offer, State } from './option-states.js';
import { codesIn, isRecorded, isUnknown, numberIn } from './option-states.js';

/** An offer that breaks a law, and how. */
export interface Breach {
  readonly offer: Offer;
  readonly says: string;
  readonly why: string;
}

/**
 * A line of clinical decisions section 6 (or of sections 2 and 3 where options are its matter), as something that
 * holds on every hip. Its limits are written here again, so that a rulebook with other limits is noticed.
 */
export interface Law {
  readonly name: string;
  /** Hips to look at beside all pairs of edges. */
  readonly goals: readonly Goal[];
  readonly fixed?: readonly Fact[];
  /** Which findings it is about. */
  readonly concerns: (finding: Finding, rule: Rule) => boolean;
  readonly applies: (state: State) => boolean;
  readonly breaches: (state: State) => readonly Breach[];
}

type Limit = number | string | boolean | readonly string[];

function where(fact: string, operator: Operator, value: Limit): Goal {
  return { condition: { kind: 'leaf', fact, operator, limit: { value } }, wanted: 'true' };
}

const PLANNED = where('procedure-kind', 'one-of', ['primary', 'revision', 'conversion', 'unspecified']);
const IN_PLACE = where('procedure-kind', 'equal', 'implanted');

const isPlanned = ({ hip }: State): boolean => hip.construct === 'planned';

const DISLOCATED = [
  'prosthesis-dislocation',
  'prosthesis-recurrent-dislocation',
  'prosthesis-instability',
  'closed-reduction-of-prosthesis',
] as const;

const NEVER_REPLACED = [
  ...DISLOCATED,
  'prosthesis-infection',
  'prosthesis-loosening',
  'prosthesis-breakage',
  'periprosthetic-fracture',
  'earlier-hip-replacement',
  'earlier-hip-revision',
  'hip-explantation',
] as const;

/** What is read of a hip only once it was replaced. */
const ONLY_OF_REPLACED = [
  'dislocation-count',
  'reduced-dislocations',
  'dislocation-direction',
  'component-retained',
] as const;

function isUnstable(state: State): boolean {
  const counted = Math.max(
    numberIn(state, 'reduced-dislocations') ?? 0,
    numberIn(state, 'dislocation-count') ?? 0,
  );
  return isRecorded(state, ...DISLOCATED) || counted >= 1;
}

function isFailed(state: State): boolean {
  const failure = ['cup', 'stem-subsidence', 'stem-rotation'];
  // A plan has neither migrated nor worn: what is read of these belongs to what is in place.
  const isSeen =
    codesIn(state, 'component-migration').some((code) => failure.includes(code)) ||
    codesIn(state, 'wear-pattern').includes('liner-fracture');
  return (
    (isSeen && !isPlanned(state)) ||
    isRecorded(
      state,
      'prosthesis-infection',
      'prosthesis-loosening',
      'prosthesis-breakage',
      'periprosthetic-fracture',
    )
  );
}

function hasDirection(state: State): boolean {
  return codesIn(state, 'dislocation-direction').some((code) => code !== 'unknown');
}

function isStiff(state: State): boolean {
  const flexion = numberIn(state, 'lumbar-flexion');
  return (flexion !== undefined && flexion <= 20) || isRecorded(state, 'lumbar-fusion', 'spine-ankylosis');
}

function isHypermobile(state: State): boolean {
  return (numberIn(state, 'sacral-slope-change') ?? 0) > 30;
}

function isFixedPosterior(state: State): boolean {
  const tilt = numberIn(state, 'app-tilt-standing');
  return isPlanned(state) && isStiff(state) && tilt !== undefined && tilt <= -10;
}

/** In a hip that was replaced before, the neck is long gone and its code is history. */
function hasFreshFracture(state: State): boolean {
  const isFirst = codesIn(state, 'procedure-kind').some(
    (kind) => kind === 'primary' || kind === 'unspecified',
  );
  const isReplaced =
    isUnstable(state) ||
    isFailed(state) ||
    // What stays in place was put in once, and only what was put in dislocates in a direction we read.
    codesIn(state, 'component-retained').length > 0 ||
    hasDirection(state) ||
    isRecorded(state, 'earlier-hip-replacement', 'earlier-hip-revision', 'hip-explantation');
  return isFirst && !isReplaced && isRecorded(state, 'femoral-neck-fracture');
}

function hasWeakAbductors(state: State): boolean {
  return (
    (numberIn(state, 'abductor-strength') ?? 5) <= 3 ||
    isRecorded(
      state,
      'abductor-tendon-tear',
      'hip-abductor-repair',
      'superior-gluteal-nerve-injury',
      'greater-trochanter-nonunion',
    )
  );
}

/** Beyond the limit by more than the measurement errs: inside the band nothing speaks of the angle. */
function isClearlySteep(state: State): boolean {
  const error = state.hip.facts.get('cup-inclination')?.error ?? Infinity;
  return isPlanned(state) && (numberIn(state, 'cup-inclination') ?? 0) - error > 50;
}

function isMalpositioned(state: State): boolean {
  const inclination = numberIn(state, 'cup-inclination') ?? 40;
  const anteversion = numberIn(state, 'cup-anteversion') ?? 20;
  return inclination < 30 || inclination > 58 || anteversion < 5 || anteversion > 34;
}

const points = ({ directions }: ReadOption, subject: Subject, ...senses: readonly Sense[]): boolean =>
  directions.some((one) => one.subject === subject && senses.includes(one.sense));

const adds = (option: ReadOption, subject: Subject): boolean => points(option, subject, 'more');

const is = ({ kinds }: ReadOption, ...wanted: readonly OptionKind[]): boolean =>
  kinds.some((kind) => wanted.includes(kind));

function isOrientation(option: ReadOption): boolean {
  return (
    is(option, 'stem version', 'cup orientation') ||
    points(option, 'cup anteversion', 'more', 'less') ||
    points(option, 'cup inclination', 'more', 'less')
  );
}

/** Looking, asking and talking come before a change of the hip and are none. */
const NO_MECHANICS: readonly OptionKind[] = [
  'no change',
  'infection',
  'work-up',
  'reading',
  'measurement',
  'follow-up',
  'discussion',
  'nerve',
  'restriction',
  'record',
];

function isMechanics(option: ReadOption): boolean {
  return option.directions.some(isAWay) || !is(option, ...NO_MECHANICS);
}

const isAWay = ({ sense }: Direction): boolean => sense === 'more' || sense === 'less';

/** Every option of these offers that is wrong. */
function wrong(
  offers: readonly Offer[],
  why: string,
  test: (option: ReadOption) => boolean,
): readonly Breach[] {
  return offers.flatMap((offer) =>
    offer.options.flatMap((option, index) =>
      test(option) ? [{ offer, says: offer.says[index] ?? option.told, why }] : [],
    ),
  );
}

const whole = (offer: Offer, why: string): Breach => ({ offer, says: offer.says.join(' · '), why });

const written =
  (...pieces: readonly RegExp[]) =>
  ({ options = [] }: Finding): boolean =>
    options.some((text) => pieces.some((piece) => piece.test(text)));

const anyOptions = ({ options = [] }: Finding): boolean => options.length > 0;

/** Head, neck and liner as plain as they come: nothing but their sizes is stated. */
const NOT_PLAIN = [
  'skirted-head',
  'skirt-diameter',
  'skirt-length',
  'liner-type',
  'mobile-liner-diameter',
  'liner-elevation-angle',
  'liner-elevation-height',
  'liner-elevation-arc',
  'liner-elevation-position',
  'liner-face-angle',
  'liner-face-direction',
  'liner-opening-angle',
  'liner-lateralization',
  'rim-chamfer',
  'head-center-offset',
  'neck-shaft-angle',
] as const;

const SEATED = [
  'app-tilt-relaxed-seated',
  'app-tilt-flexed-seated',
  'sacral-slope-relaxed-seated',
  'sacral-slope-flexed-seated',
  'spinopelvic-tilt-relaxed-seated',
  'spinopelvic-tilt-flexed-seated',
  'lumbar-lordosis-flexed-seated',
] as const;

const VERSION = [/anteversion/, /\{cup-/, /^cup /, /orientation/];

export const LAWS: readonly Law[] = [
  {
    name: 'stiff spine, pelvis fixed in posterior tilt: no option adds anteversion',
    goals: [PLANNED, where('app-tilt-standing', 'at-most', -10), where('lumbar-fusion', 'recorded', true)],
    concerns: written(...VERSION),
    applies: isFixedPosterior,
    breaches: ({ offers }) =>
      wrong(offers, 'adds anteversion to a cup that opens forward', (one) => adds(one, 'cup anteversion')),
  },
  {
    name: 'stiff spine, pelvis fixed in posterior tilt: margins standing and seated are both printed',
    goals: [
      PLANNED,
      where('app-tilt-standing', 'at-most', -10),
      where('spinopelvic-mobility', 'at-most', 30),
      where('lumbar-flexion', 'at-most', 20),
    ],
    // A plain plan, so that there are margins to print.
    fixed: [
      ...[
        ['cup-inclination', 40],
        ['cup-anteversion', 20],
        ['head-diameter', 36],
        ['neck-diameter', 12],
        ['stem-anteversion', 15],
        ['app-tilt-relaxed-seated', -20],
      ].map(([id, value]) => exactFact(String(id), Number(value))),
      ...NOT_PLAIN.map(unknownFact),
    ],
    concerns: ({ node }) => node === 'fixed-posterior' || node === 'limits-disagree',
    applies: (state) => isFixedPosterior(state) && phenotypeCards(state).length > 0,
    breaches: (state) =>
      phenotypeCards(state)
        .filter(({ advisory }) => advisory.fired?.numbers.has('margin-standing') ?? false)
        .filter(() => numberIn(state, 'app-tilt-relaxed-seated') !== undefined)
        .filter(({ detail }) => !(MARGIN('standing').test(detail) && MARGIN('seated').test(detail)))
        .map((offer) => whole(offer, 'one of the margins is not printed')),
  },
  {
    name: 'hypermobile pelvis: no option adds anteversion or inclination',
    goals: [PLANNED, where('sacral-slope-change', 'above', 30)],
    concerns: written(...VERSION, /inclination/),
    applies: (state) => isPlanned(state) && isHypermobile(state),
    breaches: ({ offers }) =>
      wrong(
        offers,
        'adds to a cup that opens with the pelvis',
        (one) => adds(one, 'cup anteversion') || adds(one, 'cup inclination'),
      ),
  },
  {
    name: 'only a standing film: the phenotype can not be told, and the seated film is asked for',
    goals: [PLANNED, where('app-tilt-standing', 'at-most', 3)],
    fixed: SEATED.map(unknownFact),
    concerns: (_finding, { id }) => id === 'spine-phenotype',
    applies: (state) =>
      isPlanned(state) && numberIn(state, 'app-tilt-standing') !== undefined && isUnknown(state, ...SEATED),
    breaches: standingFilmBreaches,
  },
  {
    name: 'retroverted stem: stem options first, cup compensation up to 34° at most and called partial',
    goals: [PLANNED, where('stem-anteversion-condylar', 'clearly-below', 0)],
    concerns: written(...VERSION),
    applies: (state) => isPlanned(state) && (numberIn(state, 'stem-anteversion-condylar') ?? 0) < 0,
    breaches: ({ offers }) => offers.flatMap(compensationBreaches),
  },
  {
    name: 'weak abductors: no option below the native offset, and dual mobility or constraint among them',
    goals: [PLANNED, where('abductor-strength', 'at-most', 3)],
    concerns: written(/offset|medialization/),
    applies: (state) => isPlanned(state) && hasWeakAbductors(state),
    breaches: (state) => [
      ...wrong(state.offers, 'takes offset from a hip without muscle', (one) =>
        points(one, 'offset', 'less'),
      ),
      ...state.offers
        .filter(({ rule }) => rule.id === 'abductor-loss')
        .filter(({ options }) => !options.some((one) => is(one, 'dual mobility', 'constraint')))
        .map((offer) => whole(offer, 'neither dual mobility nor constraint')),
      ...(isOffered(state, (one) => points(one, 'offset', 'not-less'))
        ? []
        : state.offers
            .filter(({ rule }) => rule.id === 'abductor-loss')
            .map((offer) => whole(offer, 'native offset is not named as the least'))),
    ],
  },
  {
    name: 'dual mobility and constraint stand with their price, in figures',
    goals: [PLANNED],
    concerns: written(/dual mobility|constrain/),
    applies: (state) => isPlanned(state) && isOffered(state, (one) => is(one, 'dual mobility', 'constraint')),
    breaches: ({ offers }) => offers.flatMap(priceBreaches),
  },
  {
    name: 'steep cup: lower inclination is listed before a larger head',
    goals: [PLANNED, where('cup-inclination', 'clearly-above', 50)],
    concerns: written(/larger head|head-diameter|inclination/),
    applies: isClearlySteep,
    breaches: steepBreaches,
  },
  {
    name: 'skirted long neck: a shorter neck only where the length can be given up, else another way to the length',
    goals: [PLANNED],
    concerns: written(/shorter neck|skirt/),
    applies: (state) => isPlanned(state) && isRecorded(state, 'skirted-head'),
    breaches: ({ offers }) => offers.flatMap(skirtBreaches),
  },
  {
    name: 'posterior approach with anteversion of 20° or less: no option lowers it',
    goals: [
      PLANNED,
      where('surgical-approach', 'equal', 'posterior'),
      where('cup-anteversion', 'at-most', 20),
    ],
    concerns: written(...VERSION),
    applies: (state) => isPosterior(state) && (numberIn(state, 'cup-anteversion') ?? 90) <= 20,
    breaches: ({ offers }) =>
      wrong(offers, 'lowers an anteversion of 20° or less', (one) => points(one, 'cup anteversion', 'less')),
  },
  {
    name: 'posterior approach: soft-tissue repair is among the options wherever version is',
    goals: [PLANNED, where('surgical-approach', 'equal', 'posterior')],
    concerns: written(...VERSION, /stem/),
    applies: (state) => isPosterior(state) && isOffered(state, isVersion) && !isRepairPlanned(state),
    breaches: (state) =>
      isOffered(state, (one) => is(one, 'soft-tissue repair'))
        ? []
        : state.offers
            .filter(({ options }) => options.some(isVersion))
            .map((offer) => whole(offer, 'no soft-tissue repair offered for this hip')),
  },
  {
    name: 'elevated rim: only with a position and a known direction, never behind when the hip leaves in front',
    goals: [PLANNED],
    concerns: written(/elevated|lipped|raised|\blip\b/),
    applies: (state) => isPlanned(state) && isOffered(state, (one) => is(one, 'elevated rim')),
    breaches: rimBreaches,
  },
  {
    name: 'a constrained liner is never first, and least of all where the cup is malpositioned',
    goals: [PLANNED, where('cup-inclination', 'clearly-above', 58)],
    concerns: written(/constrain/),
    applies: (state) => isPlanned(state) && isOffered(state, (one) => is(one, 'constraint')),
    breaches: constraintBreaches,
  },
  {
    name: 'fracture of the femoral neck: hemiarthroplasty is among the options',
    goals: [
      where('procedure-kind', 'one-of', ['primary', 'unspecified']),
      where('femoral-neck-fracture', 'recorded', true),
    ],
    fixed: [
      ...NEVER_REPLACED.map((id) => knownFact(id, { status: 'absent' })),
      ...ONLY_OF_REPLACED.map(unknownFact),
    ],
    concerns: written(/dual mobility|constrain|head/),
    applies: hasFreshFracture,
    breaches: (state) =>
      isOffered(state, (one) => is(one, 'hemiarthroplasty'))
        ? []
        : wrong(
            state.offers,
            'another implant and no hemiarthroplasty',
            (one) => is(one, 'dual mobility', 'constraint') || adds(one, 'head diameter'),
          ),
  },
  {
    name: 'unstable hip, direction not known: no orientation is offered',
    goals: [
      PLANNED,
      where('prosthesis-dislocation', 'recorded', true),
      { fact: 'dislocation-direction', status: 'unknown' },
    ],
    concerns: written(...VERSION, /inclination|stem/),
    applies: (state) => isPlanned(state) && isUnstable(state) && !hasDirection(state),
    breaches: ({ offers }) => wrong(offers, 'turns a hip of unknown direction', isOrientation),
  },
  {
    name: 'unstable or failed hip: infection markers before mechanics',
    goals: [where('prosthesis-dislocation', 'recorded', true)],
    concerns: anyOptions,
    applies: (state) => isUnstable(state) || isFailed(state),
    breaches: infectionBreaches,
  },
  {
    name: 'in place without instability or failure: no change, measurement, follow-up and discussion, nothing else',
    goals: [IN_PLACE],
    concerns: ({ construct, options }) => construct !== 'planned' && options !== undefined,
    applies: (state) => !isPlanned(state) && !isUnstable(state) && !isFailed(state),
    breaches: ({ offers }) =>
      wrong(
        offers,
        'more than may be done with a hip that gives no trouble',
        (one) =>
          !is(one, 'no change', 'measurement', 'follow-up', 'discussion') || one.directions.some(isAWay),
      ),
  },
  {
    name: 'cards about identity, side and data carry checks and never "no change"',
    goals: [],
    concerns: (_finding, { type }) => type !== 'clinical',
    applies: ({ offers }) => offers.some(({ rule }) => rule.type !== 'clinical'),
    breaches: ({ offers }) =>
      offers
        .filter(
          ({ rule, finding }) =>
            (rule.type !== 'clinical' && (finding.options?.length ?? 0) > 0) ||
            (finding.checks ?? []).some((text) => /no change/.test(text)),
        )
        .map((offer) => whole(offer, 'an identity, side or data card that may be left as it is')),
  },
  {
    name: 'every list of options begins with "no change"',
    goals: [],
    concerns: () => false,
    applies: ({ offers }) => offers.some(({ options }) => options.length > 0),
    breaches: ({ offers }) =>
      offers
        .filter(({ options: [first] }) => first && !is(first, 'no change'))
        .map((offer) => whole(offer, 'keeping the plan is not offered first')),
  },
  {
    name: 'no rule breaks, and whatever fires can be worded',
    goals: [],
    concerns: () => true,
    applies: ({ offers }) => offers.length > 0,
    breaches: ({ offers }) =>
      offers.flatMap((offer) =>
        offer.failure === undefined ? [] : [{ offer, says: '', why: offer.failure }],
      ),
  },
  {
    name: 'what is read of the options is what is printed, one for one',
    goals: [],
    concerns: () => false,
    applies: ({ offers }) => offers.some(({ options }) => options.length > 0),
    breaches: ({ offers }) =>
      offers
        .filter(({ options, says, failure }) => failure === undefined && options.length !== says.length)
        .map((offer) => whole(offer, `${offer.options.length} read`)),
  },
  {
    name: 'no two rules point opposite ways unsaid',
    goals: [],
    concerns: () => false,
    applies: ({ offers }) => offers.filter(({ options }) => options.length > 0).length > 1,
    breaches: ({ clashes, offers }) =>
      clashes.flatMap(({ one, other, subject }) => {
        const offer = offers.find(({ rule }) => rule.id === one.rule);
        const why = `${subject}: ${other.rule} says "${other.told}"`;
        return offer ? [{ offer, says: one.told, why }] : [];
      }),
  },
];

const MARGIN = (posture: 'standing' | 'seated'): RegExp =>
  new RegExp(`${posture} cup [^;]*(?:least margin|range asked for not reached by) \\d+°`);

function isOffered({ offers }: State, test: (option: ReadOption) => boolean): boolean {
  return offers.some(({ options }) => options.some(test));
}

function isPosterior(state: State): boolean {
  return isPlanned(state) && codesIn(state, 'surgical-approach').includes('posterior');
}

function isRepairPlanned(state: State): boolean {
  return codesIn(state, 'soft-tissue-repair').some((code) => code !== 'none');
}

function isVersion(option: ReadOption): boolean {
  return is(option, 'stem version') || points(option, 'cup anteversion', 'more', 'less');
}

function phenotypeCards({ offers }: State): readonly Offer[] {
  return offers.filter(({ finding: { node } }) => node === 'fixed-posterior' || node === 'limits-disagree');
}

/** A documented fusion speaks by itself; it then asks for the films, and names no phenotype. */
function standingFilmBreaches({ hip, offers }: State): readonly Breach[] {
  const advisory = hip.advisories.find(({ rule }) => rule === 'spine-phenotype');
  const offer = offers.find(({ rule }) => rule.id === 'spine-phenotype');
  if (offer) {
    const asks = offer.says.some((text) => /\bfilms\b.*\bseated\b/.test(text));
    return asks && offer.finding.node === undefined ? [] : [whole(offer, 'a phenotype by one film alone')];
  }
  const asksSeated = advisory?.needs.some((id) => /seated/.test(id)) ?? false;
  const [any] = offers;
  return (advisory?.outcome === 'cannot-tell' && asksSeated) || !any
    ? []
    : [whole(any, `spine-phenotype: ${advisory?.outcome ?? 'not decided'}, not asking for the seated film`)];
}

/** Of a rule that asks about the stem or the sum: elsewhere a cup may be turned for another reason. */
function compensationBreaches(offer: Offer): readonly Breach[] {
  const { options, says, rule } = offer;
  if (!conditionFacts(rule.when).some((id) => /^(?:stem|combined)-anteversion/.test(id))) return [];
  return options.flatMap((option, index) => {
    if (!adds(option, 'cup anteversion')) return [];
    const text = says[index] ?? '';
    const isAfterStem = options.slice(0, index).some((one) => is(one, 'stem version'));
    const aims = option.targets.filter(({ fact }) => fact === 'cup-anteversion');
    const isLimited = aims.length > 0 ? aims.every(({ value }) => value <= 34) : /\b34°/.test(text);
    return [
      ...(isAfterStem ? [] : ['a cup to make up for the stem, before any stem option']),
      ...(isLimited ? [] : ['a cup to make up for the stem, without the limit of 34°']),
      ...(/\bpartial/.test(offer.detail) ? [] : ['a cup to make up for the stem, not called partial']),
    ].map((why) => ({ offer, says: text, why }));
  });
}

/** The figure of each stands among the effects below the five lines. */
function priceBreaches(offer: Offer): readonly Breach[] {
  const effects = offer.detail.split('\n').filter((line) => line !== '' && !line.startsWith('**'));
  const hasFigure = (...pieces: readonly RegExp[]): boolean =>
    effects.some((line) => /\d/.test(line) && pieces.every((piece) => piece.test(line)));
  return wrong([offer], 'offered without its price in figures', (one) => {
    const isPriced = /\bprices?\b/.test(offer.says.join(' '));
    if (is(one, 'dual mobility') && !(isPriced && hasFigure(/\bprice\b|infection|intraprosthetic/)))
      return true;
    return is(one, 'constraint') && !(isPriced && hasFigure(/constrained/, /dislocat/, /fail/));
  });
}

function steepBreaches(state: State): readonly Breach[] {
  if (isUnstable(state) && !hasDirection(state)) return [];
  const lowers = (option: ReadOption): boolean => points(option, 'cup inclination', 'less');
  const isElsewhere = isOffered(state, lowers);
  return state.offers.flatMap((offer) => {
    const head = offer.options.findIndex((one) => adds(one, 'head diameter'));
    if (head < 0) return [];
    const own = offer.options.findIndex(lowers);
    const isFine = own >= 0 ? own < head : isElsewhere;
    return isFine ? [] : [{ offer, says: offer.says[head] ?? '', why: 'a larger head before a flatter cup' }];
  });
}

function skirtBreaches(offer: Offer): readonly Breach[] {
  const index = offer.says.findIndex((text) => /shorter neck/.test(text));
  if (index < 0) return [];
  const isConditional = /\blength can be given up\b/.test(offer.says[index] ?? '');
  const hasOther = offer.says.some((text) => /\bseat|\blarger stem\b/.test(text));
  return isConditional && hasOther
    ? []
    : [whole(offer, 'a shorter neck without a word on the length it gives up')];
}

const POSITION = /\b(?:posterior|posteroinferior|posterosuperior|superior|behind|away|\d+°)/;
const BEHIND = /\bposter|\bbehind\b/;

function rimBreaches(state: State): readonly Breach[] {
  const isAnterior = codesIn(state, 'dislocation-direction').includes('anterior');
  return state.offers.flatMap((offer) =>
    offer.options.flatMap((option, index): readonly Breach[] => {
      const says = (offer.says[index] ?? '').replace(/\b(?:away from|off) [^;(]*/, 'away ');
      if (!is(option, 'elevated rim') || /\b(?:no|without|flat)\b/.test(says)) return [];
      if (!hasDirection(state)) return [{ offer, says, why: 'an elevated rim, direction not known' }];
      if (!POSITION.test(says)) return [{ offer, says, why: 'an elevated rim without a position' }];
      return isAnterior && BEHIND.test(says)
        ? [{ offer, says, why: 'a rim raised behind in a hip that leaves in front' }]
        : [];
    }),
  );
}

function constraintBreaches(state: State): readonly Breach[] {
  return state.offers.flatMap((offer) => {
    const index = offer.options.findIndex((one) => is(one, 'constraint'));
    const option = offer.options[index];
    if (!option) return [];
    const isFirst = !is(option, 'dual mobility') && !offer.options.slice(0, index).some(isMechanics);
    const says = offer.says[index] ?? '';
    const isLast = /\blast\b/.test(says) || index === offer.options.length - 1;
    if (!isFirst && isLast) return [];
    const cup = isMalpositioned(state) ? ', in a malpositioned cup' : '';
    return [{ offer, says, why: `${isFirst ? 'constraint first' : 'constraint not last'}${cup}` }];
  });
}

function infectionBreaches(state: State): readonly Breach[] {
  const isInfection = (text: string): boolean => /^infection markers\b/.test(text);
  const isElsewhere = state.offers.some(
    ({ says, finding: { checks = [] } }) => says.some(isInfection) || checks.some(isInfection),
  );
  return state.offers.flatMap((offer) => {
    const mechanics = offer.options.findIndex(isMechanics);
    if (mechanics < 0) return [];
    const markers = offer.options.findIndex((one) => is(one, 'infection'));
    const isFine = markers >= 0 ? markers < mechanics : isElsewhere;
    return isFine
      ? []
      : [
          {
            offer,
            says: offer.says[mechanics] ?? '',
            why: `mechanics before infection is thought of (${isUnstable(state) ? 'unstable' : 'failed'})`,
          },
        ];
  });
}
