import type { Issue, Result } from '../../base/result.js';
import { issue, ok } from '../../base/result.js';
import type { Published } from '../../render/fhir/published.js';
import { SEARCH_PARAMETERS } from '../../render/fhir/search-parameters.js';
import type { SearchParameterName } from '../../render/fhir/search-parameters.js';

/** A search as it was understood. */
export interface Search {
  readonly filters: readonly Filter[];
  readonly count: number;
  readonly offset: number;
  /** Parameters that were not understood and are left out of account, by name. */
  readonly ignored: readonly string[];
}

interface Filter {
  readonly name: SearchParameterName;
  readonly modifier: string;
  /** Any of these is enough. */
  readonly values: readonly string[];
}

const PAGE = 50;
const LARGEST_PAGE = 200;

/** About the form of the answer, or of no effect on one that is always counted whole. */
const ABOUT_ANSWER: ReadonlySet<string> = new Set(['_format', '_pretty', '_total']);

/** Modifiers by the kind of parameter; any other would change the meaning of a search, so it is refused. */
const MODIFIERS: Readonly<Record<string, readonly string[]>> = {
  string: ['', 'exact', 'contains'],
  token: ['', 'not'],
  uri: [''],
};

/**
 * Reads the parameters of a search. Unknown ones are ignored and told, or with `strict` refused (R4, Prefer:
 * handling); a value or modifier that cannot be understood is refused either way.
 */
export function readSearch(parameters: URLSearchParams, strict: boolean): Result<Search> {
  const issues: Issue[] = [];
  const filters: Filter[] = [];
  const ignored: string[] = [];
  for (const [key, value] of parameters) {
    const [name = '', modifier = ''] = key.split(':');
    if (ABOUT_ANSWER.has(key) || key === '_count' || key === '_offset' || value === '') continue;
    if (!isParameter(name)) ignored.push(name);
    else if (!MODIFIERS[SEARCH_PARAMETERS[name]]?.includes(modifier))
      issues.push(issue('wrong-value', name, 'expected a modifier this service knows, found another'));
    else filters.push({ name, modifier, values: alternatives(value) });
  }
  if (strict && ignored.length > 0)
    issues.push(
      issue(
        'wrong-value',
        '',
        `expected parameters of the CapabilityStatement only, found ${ignored.length} unknown`,
      ),
    );
  const count = wholeNumber(parameters, '_count', PAGE, issues);
  const offset = wholeNumber(parameters, '_offset', 0, issues);
  if (issues.length > 0) return { ok: false, issues };
  return ok({ filters, count: Math.min(count, LARGEST_PAGE), offset, ignored });
}

function isParameter(name: string): name is SearchParameterName {
  return Object.hasOwn(SEARCH_PARAMETERS, name);
}

function wholeNumber(parameters: URLSearchParams, name: string, otherwise: number, issues: Issue[]): number {
  const value = parameters.get(name);
  if (value === null || value === '') return otherwise;
  if (/^\d{1,6}$/.test(value)) return Number(value);
  issues.push(issue('wrong-value', name, 'expected a whole number, found something else'));
  return otherwise;
}

/** Values parted by commas; a backslash takes a comma's meaning away. */
function alternatives(value: string): readonly string[] {
  return value.split(/(?<!\\),/).map((one) => one.replaceAll(/\\([\\,|$])/g, '$1'));
}

/** Whether a resource is asked for: by every filter. */
export function matches(resource: Published, filters: readonly Filter[]): boolean {
  return filters.every(({ name, modifier, values }) => {
    const found = valueOf(resource, name);
    const isAny = values.some((value) => compares(found, value, name, modifier));
    return modifier === 'not' ? !isAny : isAny;
  });
}

function valueOf(resource: Published, name: SearchParameterName): string {
  return (name === '_id' ? resource.id : resource[name]) ?? '';
}

function compares(found: string, value: string, name: SearchParameterName, modifier: string): boolean {
  switch (SEARCH_PARAMETERS[name]) {
    case 'uri':
      return found === value;
    case 'token':
      return isToken(found, value, name);
    case 'string':
      if (modifier === 'exact') return found === value;
      return modifier === 'contains'
        ? plain(found).includes(plain(value))
        : plain(found).startsWith(plain(value));
  }
}

const STATUS_SYSTEM = 'http://hl7.org/fhir/publication-status';

/** `code`, `|code`, or with a system: of these only the status has one. */
function isToken(found: string, value: string, name: SearchParameterName): boolean {
  const bar = value.indexOf('|');
  if (bar < 0) return found === value;
  const system = value.slice(0, bar);
  const code = value.slice(bar + 1);
  if (name === 'status') return system === STATUS_SYSTEM && (code === '' || code === found);
  return system === '' && code === found;
}

/** Without case and accents, as R4 compares texts. */
function plain(text: string): string {
  return text.normalize('NFD').replaceAll(/\p{M}/gu, '').toLowerCase();
}
