import { existsSync, readFileSync } from 'node:fs';
import ts from 'typescript';

/**
 * The titles of the tests written in a file, as written: of a template the text between its marks. A test that is
 * skipped, or runs only where something is set, holds nothing and is left out, and so is one inside such a group.
 */
export function testTitles(file: string, text: string): readonly string[] {
  return groupedTitles(file, text).map(({ title }) => title);
}

/** A title with those of the groups it stands in, outermost first. */
export interface GroupedTitle {
  readonly title: string;
  readonly groups: readonly string[];
}

/** `testTitles`, each with its groups. */
export function groupedTitles(file: string, text: string): readonly GroupedTitle[] {
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.Latest, true);
  const titles: GroupedTitle[] = [];
  const visitIn =
    (groups: readonly string[]) =>
    (node: ts.Node): void => {
      const call = ts.isCallExpression(node) ? calledAs(node) : undefined;
      if (call && !call.isCertain) return;
      if (call?.kind === 'test' && call.title !== undefined) titles.push({ title: call.title, groups });
      const inside = call?.kind === 'group' && call.title !== undefined ? [...groups, call.title] : groups;
      ts.forEachChild(node, visitIn(inside));
    };
  visitIn([])(source);
  return titles;
}

/** The titles in a file of this checkout; undefined when there is no such file. */
export function titlesIn(path: string): readonly string[] | undefined {
  return existsSync(path) ? testTitles(path, readFileSync(path, 'utf8')) : undefined;
}

interface Called {
  readonly kind: 'test' | 'group';
  readonly title: string | undefined;
  /** Whether it runs on every machine. */
  readonly isCertain: boolean;
}

const KINDS: ReadonlyMap<string, Called['kind']> = new Map([
  ['it', 'test'],
  ['test', 'test'],
  ['describe', 'group'],
]);
const UNCERTAIN: ReadonlySet<string> = new Set(['skip', 'todo', 'skipIf', 'runIf', 'fails']);

/** Reads `it(…)`, `it.each(…)(…)`, `describe.skipIf(…)(…)` and the like; undefined for any other call. */
function calledAs(node: ts.CallExpression): Called | undefined {
  const words: string[] = [];
  let callee: ts.Expression = node.expression;
  while (!ts.isIdentifier(callee)) {
    if (ts.isPropertyAccessExpression(callee)) {
      words.push(callee.name.text);
      callee = callee.expression;
    } else if (ts.isCallExpression(callee)) callee = callee.expression;
    else if (ts.isTaggedTemplateExpression(callee)) callee = callee.tag;
    else return undefined;
  }
  const kind = KINDS.get(callee.text);
  // The first call of `it.each(…)(…)` has no body: what is called with one is the test.
  const body = node.arguments[1];
  if (kind === undefined || body === undefined || !isBody(body, node)) return undefined;
  return { kind, title: titleOf(node.arguments[0]), isCertain: !words.some((word) => UNCERTAIN.has(word)) };
}

function isBody(argument: ts.Expression, { arguments: given }: ts.CallExpression): boolean {
  return [argument, given[2]].some(
    (one) => one !== undefined && (ts.isArrowFunction(one) || ts.isFunctionExpression(one)),
  );
}

function titleOf(argument: ts.Expression | undefined): string | undefined {
  if (!argument) return undefined;
  if (ts.isStringLiteralLike(argument)) return argument.text;
  return ts.isTemplateExpression(argument) ? argument.getText().slice(1, -1) : undefined;
}
