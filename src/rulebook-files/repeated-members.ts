import { parseTree } from 'jsonc-parser';
import type { Node } from 'jsonc-parser';

/** The names in a JSON text that stand a second time in one object: a reader of JSON would take the last in silence. */
export function repeatedMembers(text: string): readonly Node[] {
  const tree = parseTree(text);
  return tree ? repeatedBelow(tree) : [];
}

function repeatedBelow(node: Node): readonly Node[] {
  const keys =
    node.type === 'object' ? (node.children ?? []).flatMap(({ children }) => children?.[0] ?? []) : [];
  const names = keys.map(({ value }) => String(value));
  const repeated = keys.filter((_key, index) => names.indexOf(names[index] ?? '') < index);
  return [...repeated, ...(node.children ?? []).flatMap(repeatedBelow)];
}
