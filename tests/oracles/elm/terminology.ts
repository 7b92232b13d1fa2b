import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** What a terminology server would answer, for the codes at hand: which value sets hold a code, which side it states. */

export interface Code {
  readonly system: string;
  readonly code: string;
}

interface Part {
  readonly system?: string;
  readonly concept?: readonly { readonly code: string }[];
  readonly filter?: readonly { readonly value: string }[];
  readonly valueSet?: readonly string[];
}

interface ValueSet {
  readonly id: string;
  readonly url: string;
  readonly compose?: { readonly include?: readonly Part[]; readonly exclude?: readonly Part[] };
}

interface Family {
  readonly prefix: string;
  readonly position?: number;
  readonly sides?: Readonly<Record<string, string>>;
  readonly codes?: Readonly<Record<string, string>>;
}

const RULES = fileURLToPath(new URL('../../../rules/', import.meta.url));
const SETS: readonly ValueSet[] = ['value-sets', 'value-sets/snomed-overlay'].flatMap((folder) =>
  readdirSync(join(RULES, folder))
    .filter((name) => name.endsWith('.json'))
    .map((name) => readJson(`${folder}/${name}`) as ValueSet),
);

function readJson(path: string): unknown {
  return JSON.parse(readFileSync(join(RULES, path), 'utf8'));
}

const undotted = (code: string): string => code.replaceAll('.', '');

/** Whether a code belongs to a value set of the rulebook, the licensed part of it included. */
export function isIn(id: string, code: Code): boolean {
  const parts = SETS.filter((set) => set.id === id || set.id === `${id}-snomed-overlay`);
  if (parts.length === 0) throw new Error(`no value set ${id}`);
  const holds = (part: Part): boolean => holdsCode(part, code);
  return (
    parts.some(({ compose }) => compose?.include?.some(holds)) &&
    !parts.some(({ compose }) => compose?.exclude?.some(holds))
  );
}

/** A code stands for itself, an ICD category also for all below it, which there begins with it. */
function holdsCode(part: Part, { system, code }: Code): boolean {
  const others = SETS.filter(({ url }) => part.valueSet?.includes(url));
  if (others.some(({ compose }) => compose?.include?.some((other) => holdsCode(other, { system, code }))))
    return true;
  if (part.system !== system) return false;
  const wanted = undotted(code);
  return (
    (part.concept ?? []).some((concept) => undotted(concept.code) === wanted) ||
    (part.filter ?? []).some(({ value }) => wanted.startsWith(undotted(value)))
  );
}

/** Every code that a value set lists; of an ICD category, the category. */
export function listedIn(id: string): readonly Code[] {
  return SETS.filter((set) => set.id === id || set.id === `${id}-snomed-overlay`).flatMap(
    ({ compose }) =>
      compose?.include?.flatMap(({ system = '', concept = [], filter = [] }) => [
        ...concept.map(({ code }) => ({ system, code })),
        ...filter.map(({ value }) => ({ system, code: value })),
      ]) ?? [],
  );
}

const SNOMED = readJson('code-systems/laterality-snomed-ct.json') as Readonly<
  Record<'sidedCodes' | 'sidedSites' | 'sides', Readonly<Record<string, string>>>
> & { readonly hipSites: readonly string[] };
const FAMILIES: Readonly<Record<string, readonly Family[]>> = Object.fromEntries(
  ['icd-10-cm', 'icd-10-pcs'].map((name) => {
    const file = readJson(`code-systems/laterality-${name}.json`) as {
      readonly system: string;
      readonly families: readonly Family[];
    };
    return [file.system, file.families];
  }),
);

/** The side a code itself states: left, right or bilateral. */
export function sideStatedBy({ system, code }: Code): string | undefined {
  if (system === 'http://snomed.info/sct')
    return SNOMED.sidedCodes[code] ?? SNOMED.sidedSites[code] ?? SNOMED.sides[code];
  const own = undotted(code);
  const fitting = (FAMILIES[system] ?? []).filter(({ prefix }) => own.startsWith(undotted(prefix)));
  const [family] = fitting.sort((a, b) => undotted(b.prefix).length - undotted(a.prefix).length);
  if (family?.position !== undefined) return family.sides?.[own.charAt(family.position - 1)];
  const rows = Object.entries(family?.codes ?? {}).filter(([listed]) => own.startsWith(undotted(listed)));
  return rows.sort(([a], [b]) => b.length - a.length)[0]?.[1];
}

/** Whether a body site is a hip. */
function isHipSite({ system, code }: Code): boolean {
  return system === 'http://snomed.info/sct' && (SNOMED.hipSites.includes(code) || code in SNOMED.sidedSites);
}

/** Of the codes at hand, those in one value set: one of the rulebook, or one of the three about sides. */
export function expand(id: string, codes: readonly Code[]): readonly Code[] {
  switch (id) {
    case 'states-left':
      return codes.filter((code) => ['left', 'bilateral'].includes(sideStatedBy(code) ?? ''));
    case 'states-right':
      return codes.filter((code) => ['right', 'bilateral'].includes(sideStatedBy(code) ?? ''));
    case 'hip-site':
      return codes.filter(isHipSite);
    default:
      return codes.filter((code) => isIn(id, code));
  }
}
