import { baseId } from '../../rulebook/code-lists.js';
import type { ParsedPack } from '../../rulebook/parse-pack.js';

type ValueSetFile = ParsedPack['valueSets'][number];
type Compose = NonNullable<ValueSetFile['value']['compose']>;
type Part = Compose['include'][number] | NonNullable<Compose['exclude']>[number];

/** A code as a value set lists it, with the place where it stands. */
export interface ListedCode {
  readonly file: string;
  readonly path: string;
  /** The set, an overlay counting as the set it widens. */
  readonly set: string;
  readonly system: string;
  readonly code: string;
  /** As matching compares it: in upper case, without the dot. */
  readonly plain: string;
  /** It stands for everything below it. */
  readonly isCategory: boolean;
}

export function includedCodes(file: ValueSetFile): readonly ListedCode[] {
  return codesOf(file, 'include', file.value.compose?.include ?? []);
}

export function excludedCodes(file: ValueSetFile): readonly ListedCode[] {
  return codesOf(file, 'exclude', file.value.compose?.exclude ?? []);
}

function codesOf({ file, value }: ValueSetFile, list: string, parts: readonly Part[]): readonly ListedCode[] {
  return parts.flatMap((part, index) => {
    const { system } = part;
    if (system === undefined) return [];
    const at = { file, set: baseId(value.id), system };
    const base = `compose.${list}[${index}]`;
    return [
      ...(part.concept ?? []).map(({ code }, item) => ({
        ...at,
        path: `${base}.concept[${item}].code`,
        code,
        plain: plain(code),
        isCategory: false,
      })),
      ...(part.filter ?? []).map(({ value: code }, item) => ({
        ...at,
        path: `${base}.filter[${item}].value`,
        code,
        plain: plain(code),
        isCategory: true,
      })),
    ];
  });
}

/** Whether everything one entry stands for is also stood for by another. */
export function isCoveredBy(one: ListedCode, other: ListedCode): boolean {
  if (one.system !== other.system) return false;
  if (!other.isCategory) return !one.isCategory && one.plain === other.plain;
  return one.plain.startsWith(other.plain);
}

/** Codes by the set that lists them, an overlay's among those of the set it widens. */
export function bySet(codes: readonly ListedCode[]): ReadonlyMap<string, readonly ListedCode[]> {
  const sets = new Map<string, ListedCode[]>();
  for (const listed of codes) {
    const known = sets.get(listed.set);
    if (known) known.push(listed);
    else sets.set(listed.set, [listed]);
  }
  return sets;
}

function plain(code: string): string {
  return code.toUpperCase().replace('.', '');
}
