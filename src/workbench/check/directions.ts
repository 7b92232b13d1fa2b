/**
 * Which way an option points. The vocabulary is ours: it reads the words of options as they are written today, and an
 * option it does not know has no direction. A new way of saying one is added here.
 */

export type Subject = 'cup anteversion' | 'cup inclination' | 'offset' | 'leg length' | 'head diameter';
/** `not-more` and `not-less` rule a direction out without asking for the other. */
export type Sense = 'more' | 'less' | 'not-more' | 'not-less';

export interface Direction {
  readonly subject: Subject;
  readonly sense: Sense;
}

/** Two senses that can't both be followed. */
export function isOpposite(a: Direction, b: Direction): boolean {
  return (
    a.subject === b.subject && (OPPOSITES[a.sense].includes(b.sense) || OPPOSITES[b.sense].includes(a.sense))
  );
}

const OPPOSITES: Readonly<Record<Sense, readonly Sense[]>> = {
  more: ['less', 'not-more'],
  less: ['more', 'not-less'],
  'not-more': ['more'],
  'not-less': ['less'],
};

/** What words of an option say. */
export const DIRECTION_WORDS: readonly (Direction & { readonly words: RegExp })[] = [
  { subject: 'cup anteversion', sense: 'more', words: /\bmore (?:cup )?anteversion\b/ },
  { subject: 'cup anteversion', sense: 'less', words: /\b(?:less|lower) (?:cup )?anteversion\b/ },
  {
    subject: 'cup anteversion',
    sense: 'not-more',
    words: /\b(?:nothing that adds|no added|no more|not more) (?:cup )?anteversion\b|^none added\b/,
  },
  {
    subject: 'cup anteversion',
    sense: 'not-less',
    words: /\b(?:nothing that lowers|no less|not less) (?:cup )?anteversion\b|\banteversion kept\b/,
  },
  {
    subject: 'cup inclination',
    sense: 'more',
    words: /\bmore (?:anteversion or )?inclination\b|\bsteeper cup\b/,
  },
  {
    subject: 'cup inclination',
    sense: 'not-more',
    words: /\b(?:nothing that adds|no added|no more|not more) (?:anteversion or )?inclination\b/,
  },
  { subject: 'cup inclination', sense: 'less', words: /\b(?:less|lower) inclination\b|\bflatter cup\b/ },
  {
    subject: 'offset',
    sense: 'more',
    words: /\bhigh-offset\b|\bmore (?:global |femoral )?offset\b|\bless medialization\b/,
  },
  {
    subject: 'offset',
    sense: 'less',
    words: /\blow-offset\b|\b(?:less|lower) (?:global |femoral )?offset\b|\bmore medialization\b/,
  },
  {
    subject: 'offset',
    sense: 'not-less',
    words: /\boffset at or above native\b|\boffset(?: and tension)? kept\b/,
  },
  { subject: 'leg length', sense: 'less', words: /\bless lengthening\b/ },
  { subject: 'leg length', sense: 'more', words: /\bmore (?:lengthening|length)\b/ },
  { subject: 'head diameter', sense: 'more', words: /\blarger head\b/ },
  { subject: 'head diameter', sense: 'less', words: /\bsmaller head\b/ },
];

/** A number up to which something is given: it adds only to what lies below it. */
export const UP_TO: readonly { readonly subject: Subject; readonly fact: string; readonly words: RegExp }[] =
  [
    {
      subject: 'cup anteversion',
      fact: 'cup-anteversion',
      words: /^cup compensation\b.*\bup to \{([a-z0-9-]+)\}/,
    },
  ];

/** What an option is about, apart from the way it points. */
export type OptionKind =
  | 'no change'
  | 'infection'
  | 'work-up'
  | 'reading'
  | 'measurement'
  | 'follow-up'
  | 'discussion'
  | 'cup orientation'
  | 'hip center'
  | 'stem version'
  | 'dual mobility'
  | 'constraint'
  | 'hemiarthroplasty'
  | 'soft-tissue repair'
  | 'abductor repair'
  | 'elevated rim'
  | 'liner'
  | 'bearing'
  | 'shell'
  | 'head'
  | 'stem size'
  | 'record'
  | 'bone'
  | 'neck'
  | 'nerve'
  | 'restriction';

export const KIND_WORDS: readonly { readonly kind: OptionKind; readonly words: RegExp }[] = [
  { kind: 'no change', words: /^no change$/ },
  { kind: 'infection', words: /^infection markers (?:first|before)\b/ },
  {
    kind: 'work-up',
    words:
      /\bloosening\b.*\b(?:first|before malposition|on films)$|\bdirection\b.*\bcount\b|^direction, and dislocations treated elsewhere\b|^old operation note\b|^direction and (?:angle|sum) disagree\b/,
  },
  {
    kind: 'reading',
    words:
      /\bread (?:standing|together|again|first|in each|with it)\b|\b(?:weighed|counted|judged together|looked (?:up|at|for)\b.*\b(?:first|before constraint)|reviewed)\b|^(?:stem: version read|lateral films|relaxed-seated film|pelvis films|pelvis read|sign checked|femoral version by CT)\b/,
  },
  {
    kind: 'measurement',
    words:
      /^measurement (?:repeated|completed)\b|^measured again\b|^lysis(?:,| and) trochanter (?:first|measured)\b/,
  },
  { kind: 'follow-up', words: /^follow-up by local protocol$/ },
  { kind: 'discussion', words: /^discuss if symptoms appear$|\btalked over\b/ },
  { kind: 'cup orientation', words: /^orientation, for\b|^cup position before\b|^cup revision\b/ },
  { kind: 'hip center', words: /^center nearer its own height\b/ },
  {
    kind: 'stem version',
    words:
      /^stem(?: first)?:(?! version read)|\bstem revision\b|\bversion-independent\b|\bre-broach|\bmodular stem\b/,
  },
  { kind: 'dual mobility', words: /\bdual mobility\b/ },
  { kind: 'constraint', words: /(?<!before )\bconstrain(?:ed|t)\b/ },
  { kind: 'hemiarthroplasty', words: /\bhemiarthroplasty\b/ },
  {
    kind: 'soft-tissue repair',
    words: /\b(?:soft-tissue|capsule|capsular|rotator|short-rotator|its)\b.*\brepair\b/,
  },
  { kind: 'abductor repair', words: /\babductor repair\b|^trochanter refixed\b/ },
  {
    kind: 'elevated rim',
    words: /\b(?:elevated|lipped|raised)[ -](?:rim|liner|wall)\b|\blip (?:turned|off)\b/,
  },
  { kind: 'liner', words: /^neutral liner\b|^liner exchange$/ },
  { kind: 'bearing', words: /^(?:other|fixed) bearing\b|^ceramic head\b|^cross-linked polyethylene\b/ },
  { kind: 'shell', words: /^larger shell\b/ },
  { kind: 'head', words: /^\{[a-z0-9-]+\} head\b/ },
  { kind: 'stem size', words: /\bhigher seating\b|\blarger stem\b/ },
  { kind: 'record', words: /^the record completed$|\bnoted in the plan$/ },
  { kind: 'bone', words: /^levering bone removed$/ },
  { kind: 'neck', words: /\b(?:slimmer|shorter|longer) neck\b|\bskirt\b/ },
  { kind: 'nerve', words: /\bnerve\b/ },
  { kind: 'restriction', words: /^none (?:with|added where)\b/ },
];

/** An option that begins with a number of this measure is a target: it points from the value found toward it. */
export const TARGETS: Readonly<Record<string, Subject>> = {
  'cup-anteversion': 'cup anteversion',
  'cup-inclination': 'cup inclination',
  'effective-head-diameter': 'head diameter',
  'head-diameter': 'head diameter',
};

/** Back into a range that was left: away from the side on which the rule found the value. */
export const BACK_INSIDE: readonly {
  readonly subject: Subject;
  readonly words: RegExp;
  readonly fact: string;
}[] = [
  { subject: 'cup anteversion', words: /\banteversion inside a published range\b/, fact: 'cup-anteversion' },
  { subject: 'cup inclination', words: /\binclination inside a published range\b/, fact: 'cup-inclination' },
];

/** An option that names its own case or exception ("unless …", "where …") says a disagreement openly. */
export const CONDITIONAL = /\b(?:unless|where|only if)\b/;
