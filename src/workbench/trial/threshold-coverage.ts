import type { ComparisonExplanation, Explanation } from '../../engine/explanation.js';
import type { ConditionFile } from '../../rulebook/rule-schema.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { EdgeKind, ThresholdCoverage, ThresholdEdge } from '../report/report-types.js';
import { rootsOf } from '../rule-sources.js';
import type { RuleSources } from '../rule-sources.js';
import { stepFor } from '../steps.js';

/** Where a value may lie as a comparison with a limit sees it, nearest last. */
export const EDGES: readonly EdgeKind[] = [
  'clearly-below',
  'just-below',
  'at',
  'just-above',
  'clearly-above',
];

const MOST_NAMED = 5;

/** One comparison with a limit: which of its sides test patients stand on. */
export interface EdgeCoverage extends ThresholdCoverage {
  /** The file the comparison stands in. */
  readonly file: string;
  readonly step: number;
  /** Whether values with a measuring band are meant; the edges are then those of the band. */
  readonly banded: boolean;
  /** Test patients for whom the comparison could not be made. */
  readonly unknown: readonly string[];
}

/** The trees of one rule for one hip. */
export interface RuleTrees {
  readonly appliesWhen: Explanation;
  readonly when: Explanation;
  readonly wheres: ReadonlyMap<number, Explanation>;
  /** Of the named conditions that its causes and single words depend on. */
  readonly named: ReadonlyMap<string, Explanation>;
}

interface Seen {
  readonly file: string;
  readonly rule: string;
  readonly path: string;
  readonly leaf: { readonly fact: string; readonly operator: string; readonly parameter: string };
  readonly names: Map<string, string[]>;
}

/** Gathers on which side of each limit the values of test patients lie. */
export class ThresholdRecorder {
  readonly #seen = new Map<string, Seen>();
  readonly #files: ReadonlyMap<string, RuleSources['rules'][number]>;

  constructor(
    private readonly rulebook: Rulebook,
    private readonly sources: RuleSources,
  ) {
    this.#files = new Map(sources.rules.map((one) => [one.value.id, one]));
    for (const { file, value } of sources.rules)
      for (const { path, condition } of rootsOf(value))
        this.#expect(condition, { file, rule: value.id, path });
    for (const { file, value } of sources.named.values())
      this.#expect(value.when, { file, rule: value.id, path: 'when' });
  }

  /** Notes every comparison with a limit before any value is met: one that is never met must be named too. */
  #expect(condition: ConditionFile, place: { file: string; rule: string; path: string }): void {
    for (const { condition: child, path } of childrenOf(condition, place.path))
      this.#expect(child, { ...place, path });
    if (!('fact' in condition) || typeof condition.value !== 'object' || !('parameter' in condition.value))
      return;
    const { fact, operator, value } = condition;
    const leaf = { fact, operator, parameter: value.parameter };
    for (const band of this.#bands(place.rule, leaf))
      this.#seen.set(keyOf(place.file, place.path, band), { ...place, leaf, names: new Map() });
  }

  /** Whether values without a measuring band, with one, or both can be compared. */
  #bands(rule: string, { fact, operator }: Seen['leaf']): readonly boolean[] {
    if (!operator.startsWith('clearly-')) return [false];
    // A named condition is met by the rules that name it.
    const findings = this.rulebook.rules
      .filter(({ id, named }) => id === rule || named.has(rule))
      .flatMap((one) => one.findings);
    // What stands in a hip was measured.
    if (findings.length > 0 && findings.every(({ construct }) => construct === 'in-place')) return [true];
    return this.rulebook.knowledge.measuringErrors.has(fact) ? [false, true] : [false];
  }

  add(rule: string, { appliesWhen, when, wheres, named }: RuleTrees, name: string): void {
    const source = this.#files.get(rule);
    if (!source) return;
    for (const { path, condition, finding } of rootsOf(source.value)) {
      const tree = finding === undefined ? (path === 'when' ? when : appliesWhen) : wheres.get(finding);
      // What a rule asks of a hip it does not apply to decides nothing.
      if (tree && (path !== 'when' || appliesWhen.truth !== 'false'))
        this.#walk(condition, tree, { file: source.file, path }, name);
    }
    for (const [condition, tree] of named)
      this.#walk({ condition }, tree, { file: source.file, path: 'causes' }, name);
  }

  #walk(condition: ConditionFile, tree: Explanation, at: { file: string; path: string }, name: string): void {
    if ('condition' in condition) {
      const named = this.sources.named.get(condition.condition);
      if (named) this.#walk(named.value.when, tree, { file: named.file, path: 'when' }, name);
      return;
    }
    if (tree.kind === 'compare') {
      this.#note(tree, at, name);
      return;
    }
    const trees = tree.kind === 'not' ? [tree.child] : tree.children;
    childrenOf(condition, at.path).forEach((child, index) => {
      const inner = trees[index];
      if (inner) this.#walk(child.condition, inner, { ...at, path: child.path }, name);
    });
  }

  #note(leaf: ComparisonExplanation, { file, path }: { file: string; path: string }, name: string): void {
    if (leaf.parameter === undefined) return;
    const banded = leaf.operator.startsWith('clearly-') && (leaf.error ?? 0) > 0;
    const seen = this.#seen.get(keyOf(file, path, banded)) ?? this.#addRow(file, path, banded);
    if (!seen) return;
    const place = placeOf(leaf, stepFor(leaf.fact, leaf.unit, this.rulebook));
    const names = seen.names.get(place) ?? [];
    if (names.length < MOST_NAMED && !names.includes(name)) names.push(name);
    seen.names.set(place, names);
  }

  /** A band that nothing foretold, such as that of an angle worked out from a measured one; or a row for both. */
  #addRow(file: string, path: string, banded: boolean): Seen | undefined {
    const other = this.#seen.get(keyOf(file, path, !banded));
    if (!other || !banded) return other;
    const seen = { ...other, names: new Map<string, string[]>() };
    this.#seen.set(keyOf(file, path, banded), seen);
    return seen;
  }

  finish(): readonly EdgeCoverage[] {
    return [...this.#seen.entries()].map(([key, seen]) => this.#row(key, seen));
  }

  #row(key: string, { file, rule, path, leaf, names }: Seen): EdgeCoverage {
    const parameter = this.rulebook.parameters.get(leaf.parameter);
    const banded = key.endsWith(BANDED);
    const edges = this.#edgesOf(leaf).map((edge): ThresholdEdge => {
      const patients = names.get(edge) ?? [];
      return { edge, covered: patients.length > 0, patients };
    });
    return {
      rule,
      file,
      path,
      ...leaf,
      operator: banded ? `${leaf.operator} (measured)` : leaf.operator,
      limit: typeof parameter?.value === 'number' ? parameter.value : Number.NaN,
      unit: parameter?.unit ?? '1',
      step: stepFor(leaf.fact, parameter?.unit, this.rulebook),
      banded,
      edges,
      unknown: names.get('unknown') ?? [],
    };
  }

  /** The places a value can lie at: below the lowest value there is, none can. */
  #edgesOf({ fact, parameter }: Seen['leaf']): readonly EdgeKind[] {
    const definition = this.rulebook.factById.get(fact);
    const limit = this.rulebook.parameters.get(parameter);
    const isCount = definition && 'valueType' in definition && definition.valueType === 'integer';
    if (!isCount || typeof limit?.value !== 'number') return EDGES;
    const step = stepFor(fact, limit.unit, this.rulebook);
    return limit.value - step <= 0 ? EDGES.filter((edge) => edge !== 'clearly-below') : EDGES;
  }
}

const BANDED = ' with band';

function keyOf(file: string, path: string, banded: boolean): string {
  return `${file} ${path}${banded ? BANDED : ''}`;
}

function childrenOf(
  condition: ConditionFile,
  path: string,
): readonly { readonly condition: ConditionFile; readonly path: string }[] {
  if ('all' in condition)
    return condition.all.map((child, index) => ({ condition: child, path: `${path}.all[${index}]` }));
  if ('any' in condition)
    return condition.any.map((child, index) => ({ condition: child, path: `${path}.any[${index}]` }));
  if ('not' in condition) return [{ condition: condition.not, path: `${path}.not` }];
  return [];
}

/** On which side of its limit a value lies, the band taken off first as the comparison does. */
function placeOf(leaf: ComparisonExplanation, step: number): EdgeKind | 'unknown' {
  const { limit, truth, error = 0, operator } = leaf;
  const value = nearestTo(leaf);
  if (truth === 'unknown' || value === undefined || typeof limit !== 'number') return 'unknown';
  const shift = operator === 'clearly-above' ? -error : operator === 'clearly-below' ? error : 0;
  const away = value + shift - limit;
  const DUST = 1e-9;
  if (Math.abs(away) < DUST) return 'at';
  const side = away > 0 ? 'above' : 'below';
  return Math.abs(away) <= step + DUST ? `just-${side}` : `clearly-${side}`;
}

/** The value, or of an interval the end next to the limit. */
function nearestTo({ found, limit }: ComparisonExplanation): number | undefined {
  if (typeof found === 'number') return found;
  if (typeof found !== 'object' || Array.isArray(found) || typeof limit !== 'number') return undefined;
  const { low, high } = found as { readonly low?: number; readonly high?: number };
  const ends = [low, high].filter((end) => end !== undefined);
  return ends.sort((a, b) => Math.abs(a - limit) - Math.abs(b - limit))[0];
}
