import { parseTree } from 'jsonc-parser';
import type { Node } from 'jsonc-parser';
import type { Fault } from './finding.js';

/** Finds the line of a fault in the text of its file. */
export type Locate = (fault: Pick<Fault, 'file' | 'path' | 'expected' | 'found'>) => number;

/** Finds lines in these files. A fault in a file that is not among them stands on line 1. */
export function locator(texts: ReadonlyMap<string, string>): Locate {
  const trees = new Map<string, Node | undefined>();
  return (fault) => {
    const text = texts.get(fault.file);
    if (text === undefined) return 1;
    if (!trees.has(fault.file)) trees.set(fault.file, parseTree(text));
    const root = trees.get(fault.file);
    return root ? lineAt(text, offsetOf(pointOf(root, fault))) : 1;
  };
}

/** The line of an offset, counted from 1. */
export function lineAt(text: string, offset: number): number {
  return text.slice(0, offset).split('\n').length;
}

/** The nearest node of the path that exists, and inside it the very thing that was found, where it stands there. */
function pointOf(root: Node, { path, expected, found }: Pick<Fault, 'path' | 'expected' | 'found'>): Node {
  const node = nearest(root, path);
  const fact = /^a group that depends on (\S+)$/.exec(expected)?.[1];
  if (fact !== undefined) return innermostGroup(node, fact) ?? node;
  const members = /^no member (.+)$/.exec(expected)?.[1]?.split(', ') ?? [];
  for (const name of members) {
    const member = memberOf(node, name);
    if (member) return member;
  }
  return firstMention(node, found) ?? node;
}

/** Follows a path as far as it goes; what it names beyond that does not exist. */
function nearest(node: Node, path: string): Node {
  if (path === '') return node;
  const index = node.type === 'array' ? /^\[(\d+)\]/.exec(path) : null;
  if (index) {
    const item = node.children?.[Number(index[1])];
    return item ? nearest(item, restOf(path, index[0].length)) : node;
  }
  const named = node.type === 'array' ? itemsById(node) : members(node);
  // A name may hold dots itself, so the longest that fits is meant.
  const fits = named
    .filter(([name]) => path === name || path.startsWith(`${name}.`) || path.startsWith(`${name}[`))
    .sort(([a], [b]) => b.length - a.length)[0];
  return fits ? nearest(fits[1], restOf(path, fits[0].length)) : node;
}

function restOf(path: string, length: number): string {
  return path.slice(length).replace(/^\./, '');
}

function members(node: Node): readonly (readonly [string, Node])[] {
  if (node.type !== 'object') return [];
  return (node.children ?? []).flatMap(({ children }) => {
    const [key, value] = children ?? [];
    return key && value ? [[String(key.value), value] as const] : [];
  });
}

function memberOf(node: Node, name: string): Node | undefined {
  return members(node).find(([key]) => key === name)?.[1];
}

function itemsById(node: Node): readonly (readonly [string, Node])[] {
  return (node.children ?? []).flatMap((item) => {
    const id = memberOf(item, 'id')?.value as unknown;
    return typeof id === 'string' ? [[id, item] as const] : [];
  });
}

/** The first text, number or member name below a node that is what was found; a placeholder stands inside a text. */
function firstMention(node: Node, found: string): Node | undefined {
  // An id is often told with more behind it: "… (quoted only)", "… in mm".
  const id = /^[a-z0-9]+(?:[.-][a-z0-9]+)+(?=[ ,]|$)/.exec(found)?.[0] ?? found;
  const wanted = [found, found.replace(/^"(.*)"$/, '$1'), id];
  const isMeant = ({ type, value }: Node): boolean => {
    if (type !== 'string' && type !== 'number') return false;
    const text = String(value);
    return wanted.includes(text) || (found.startsWith('{') && text.includes(found));
  };
  return descendants(node).find(isMeant);
}

function descendants(node: Node): readonly Node[] {
  return [node, ...(node.children ?? []).flatMap(descendants)];
}

/** The innermost group that asks about a fact more than once: the one that never depends on it. */
function innermostGroup(node: Node, fact: string): Node | undefined {
  const asks = descendants(node).filter((one) => memberOf(one, 'fact')?.value === fact).length;
  if (asks < 2) return undefined;
  for (const child of node.children ?? []) {
    const inner = innermostGroup(child, fact);
    if (inner) return inner;
  }
  return node;
}

/** A member is pointed at by its name, an item of a list by itself. */
function offsetOf(node: Node): number {
  return node.parent?.type === 'property' ? node.parent.offset : node.offset;
}
