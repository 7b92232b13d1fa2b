import type { Condition, Finding, Rulebook } from '../../rulebook/types.js';
import { askedText } from '../readable-tree.js';
import { HOOK_TITLES, titleOf } from '../words.js';

/** A condition in one line; a named group is told by its name. */
export function conditionWords(condition: Condition, rulebook: Rulebook): string {
  if (condition.kind === 'leaf') {
    const { fact, operator, limit } = condition;
    const { value, unit } = limit;
    return askedText({ fact, operator, limit: value, ...(unit !== undefined && { unit }) }, rulebook);
  }
  if (condition.name !== undefined) return groupWords(condition.name);
  if (condition.kind === 'not') return `not (${conditionWords(condition.child, rulebook)})`;
  const parts = condition.children.map((child) => {
    const words = conditionWords(child, rulebook);
    const isMixed = child.kind !== 'leaf' && child.kind !== 'not' && child.name === undefined;
    return isMixed && condition.children.length > 1 ? `(${words})` : words;
  });
  return parts.join(condition.kind === 'all' ? ' and ' : ' or ');
}

/** The name of a group as words, in quotation marks: it is a name of ours, told in full elsewhere. */
export function groupWords(name: string): string {
  return `“${name.replaceAll('-', ' ')}”`;
}

/** When a finding speaks, in one line. */
export function speaksWhere(finding: Finding, rulebook: Rulebook): string {
  const { construct, entries, node, given, where } = finding;
  const parts = [
    ...(construct === undefined ? [] : [construct === 'planned' ? 'planned hip' : 'hip in place']),
    ...(entries ? [entries.map((entry) => HOOK_TITLES[entry].toLowerCase()).join(' or ')] : []),
    ...(node === undefined ? [] : [groupWords(node)]),
    ...(given
      ? [
          `${given.recorded.map((id) => titleOf(id, rulebook)).join(' or ')} recorded, ${titleOf(given.unknown, rulebook)} not known`,
        ]
      : []),
    ...(where ? [conditionWords(where, rulebook)] : []),
  ];
  return parts.length === 0 ? 'otherwise' : parts.join('; ');
}
