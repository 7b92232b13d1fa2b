import type { CardContext } from './card-types.js';

/** A link of a card (CDS Hooks 2.0): always a page of its own, never an app. */
export interface CardLink {
  readonly label: string;
  readonly url: string;
  readonly type: 'absolute';
}

const LABEL = 'Why it says so: logic, sources and limits of this rule';

/** The way from a rule's card to what is behind the rule, in the rulebook that spoke; none where nobody can follow it. */
export function evidenceLinks(
  rule: string,
  { publicUrl, rulebook }: Pick<CardContext, 'publicUrl' | 'rulebook'>,
): { readonly links?: readonly CardLink[] } {
  if (publicUrl === undefined) return {};
  const url = `${publicUrl}/evidence/${rulebook.about.version}/${rule}`;
  return { links: [{ label: LABEL, url, type: 'absolute' }] };
}
