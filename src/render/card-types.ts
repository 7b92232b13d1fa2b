import { listUuid } from '../base/hash.js';
import type { ConstructKind, Hip } from '../facts/definitions.js';
import type { SiteGovernance } from '../rulebook/site-governance.js';
import type { Entry, Rulebook } from '../rulebook/types.js';
import type { CardLink } from './card-links.js';

export type Indicator = 'info' | 'warning' | 'critical';

/** A CDS Hooks card (2.0), as far as this service writes one. */
export interface Card {
  readonly uuid: string;
  readonly summary: string;
  readonly detail: string;
  readonly indicator: Indicator;
  readonly source: {
    readonly label: string;
    readonly topic: { readonly system: string; readonly code: string; readonly display: string };
  };
  /** Two ways of answering, neither of which does anything to the record. */
  readonly suggestions: readonly Suggestion[];
  readonly selectionBehavior: 'at-most-one';
  readonly overrideReasons: readonly OverrideReason[];
  /** Where what is behind the card can be read; left out where nobody said how the service is reached. */
  readonly links?: readonly CardLink[];
  readonly extension: { readonly 'example.kotyle.advisory': Readonly<Record<string, unknown>> };
}

export interface Suggestion {
  readonly label: string;
  readonly uuid: string;
}

export interface OverrideReason {
  readonly code: string;
  readonly system: string;
  readonly display: string;
}

/** What is the same for all cards of one answer, and makes their ids. */
export interface CardContext {
  readonly rulebook: Rulebook;
  readonly entry: Entry;
  /** The entry whose wording is used: a known reader at booking reads what a surgeon would. */
  readonly telling: Entry;
  readonly service: string;
  readonly hookInstance: string;
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  /** The id of the evaluation all cards belong to. */
  readonly evaluation: () => string;
  readonly evaluatedAt: string;
  readonly engine: string;
  /** Makes acknowledgements unguessable. */
  readonly nameSecret?: string;
  /** Where clients reach the service. */
  readonly publicUrl?: string;
  /** The installation whose settings and maps were used. */
  readonly site?: { readonly id: string; readonly version: string; readonly hash: string };
  /** What the site decided about rules and limits. */
  readonly governed?: SiteGovernance;
  /** Measures the site records at all; everything may be recorded where it does not say. */
  readonly recorded?: ReadonlySet<string>;
  /** Codings of the record that the site's maps translated. */
  readonly mapped?: readonly Readonly<Record<string, unknown>>[];
}

/** The five lines of a card, the deferral among them, come first, whatever is told beside them. */
export const CARD_LINES = 5;

export const RULE_SYSTEM = 'https://kotyle.example/fhir/CodeSystem/rule';

/** Most characters a summary may have (the standard allows fewer than 140). */
export const LONGEST_SUMMARY = 110;

export function hipTitle(hip: Hip): string {
  switch (hip) {
    case 'left':
      return 'Left hip';
    case 'right':
      return 'Right hip';
    case 'unknown':
      return 'Hip, side not stated';
  }
}

export function constructTitle(construct: ConstructKind): string {
  return construct === 'planned' ? 'planned' : 'in place';
}

export function cardUuid(kind: string, hip: string, construct: string, context: CardContext): string {
  const { iss, service, entry, hookInstance, rulebook, site } = context;
  const installation = site?.hash ?? '-';
  return listUuid([iss, service, entry, hookInstance, kind, hip, construct, rulebook.hash, installation]);
}

/** How a reader may answer a card: the same two suggestions and reasons for every card of its intent. */
export function answersFor(
  uuid: string,
  intent: 'planning' | 'check',
  { rulebook }: CardContext,
): Pick<Card, 'suggestions' | 'selectionBehavior' | 'overrideReasons'> {
  const { kept, review, reasons } = rulebook.about.answers[intent];
  const system = rulebook.about.systems.overrideReason;
  return {
    suggestions: [
      { label: kept, uuid: listUuid([uuid, 'kept']) },
      { label: review, uuid: listUuid([uuid, 'review']) },
    ],
    selectionBehavior: 'at-most-one',
    overrideReasons: reasons.map(({ code, display }) => ({ code, system, display })),
  };
}

/** Cuts a summary to the length a card may have, by characters as a reader counts them. */
export function shorten(text: string): string {
  // A character takes one code unit or two.
  if (text.length <= LONGEST_SUMMARY) return text;
  const characters = Array.from(text);
  if (characters.length <= LONGEST_SUMMARY) return text;
  const cut = characters.slice(0, LONGEST_SUMMARY - 1).join('');
  const blank = cut.lastIndexOf(' ');
  return `${blank > LONGEST_SUMMARY / 2 ? cut.slice(0, blank) : cut}…`;
}
