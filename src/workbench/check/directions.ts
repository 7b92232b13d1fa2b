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
  { subject: 'cup anteversion', sense: 'less', words: /\bless (?:cup )?anteversion\b/ },
  {
    subject: 'cup anteversion',
    sense: 'not-more',
    words: /\b(?:nothing that adds|no added|no more) (?:cup )?anteversion\b|^none added\b/,
  },
  {
    subject: 'cup inclination',
    sense: 'more',
    words: /\bmore (?:anteversion or )?inclination\b|\bsteeper cup\b/,
  },
  { subject: 'cup inclination', sense: 'less', words: /\b(?:less|lower) inclination\b|\bflatter cup\b/ },
  { subject: 'offset', sense: 'more', words: /\bhigh-offset\b|\bmore (?:global |femoral )?offset\b/ },
  { subject: 'offset', sense: 'less', words: /\blow-offset\b|\bless (?:global |femoral )?offset\b/ },
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
