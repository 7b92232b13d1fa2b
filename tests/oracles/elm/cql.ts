import { readFileSync, readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { CodeService, DateTime, Executor, Interval, Library, Repository } from 'cql-execution';
import { PatientSource } from 'cql-exec-fhir';
import type { Outcome } from '../../../src/engine/evaluate.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import type { Rulebook } from '../../../src/rulebook/types.js';
import { expand } from './terminology.js';
import type { Code } from './terminology.js';

/** Runs the rules written in ELM, the executable form of CQL, by an engine that is not ours. */

export const RULES = [
  'cup-inclination-outside-published',
  'cup-retroversion-confirmed',
  'head-neck-ratio-low-with-trigger',
  'neurological-disease',
  'projected-leg-length-over-limit',
] as const;

export type RuleId = (typeof RULES)[number];

/** A hip and construct that is asked about. */
export interface Place {
  readonly hip: string;
  readonly construct: string;
}

/** A record as it was sent: what a call leaves out was not read. */
export interface SentRecord {
  readonly id: string;
  readonly bundle: JsonObject;
  readonly isProblemListRead: boolean;
  readonly areProceduresRead: boolean;
}

export interface CqlAnswer {
  readonly outcomes: Readonly<Record<RuleId, Outcome>>;
  /** The hips with an order, and those with a replacement in place, as the ELM finds them. */
  readonly planned: readonly string[];
  readonly inPlace: readonly string[];
}

interface ElmLibrary {
  readonly library: { readonly valueSets?: { readonly def: readonly { readonly id: string }[] } };
}

const FOLDER = fileURLToPath(new URL('./libraries/', import.meta.url));
const LIBRARIES = Object.fromEntries(
  readdirSync(FOLDER).map((name) => [
    name,
    JSON.parse(readFileSync(`${FOLDER}${name}`, 'utf8')) as ElmLibrary,
  ]),
);
const LIBRARY = new Library(LIBRARIES['five-rules.json'], new Repository(LIBRARIES));

/** The limits the rules are asked with, from the rulebook: numbers only, no condition. */
function limitsOf(rulebook: Rulebook): Readonly<Record<string, unknown>> {
  const value = (id: string): unknown => {
    const found = rulebook.parameters.get(id)?.value;
    if (Array.isArray(found)) return new Interval(found[0], found[1]);
    if (typeof found !== 'number') throw new TypeError(`no number or range ${id}`);
    return found;
  };
  return {
    InclinationLow: value('cup-inclination-published-low'),
    InclinationHigh: value('cup-inclination-published-high'),
    RetroversionLimit: value('cup-retroversion-limit'),
    RatioPreferred: value('head-neck-ratio-preferred'),
    StrengthDeficient: value('abductor-strength-deficient'),
    LengthLimit: value('leg-length-difference-limit'),
    BandCt: value('measuring-band-ct'),
    BandFilmInclination: value('measuring-band-film-inclination'),
    BandFilmAnteversion: value('measuring-band-film-anteversion'),
    PlausibleInclination: value('plausible-cup-inclination'),
    PlausibleAnteversion: value('plausible-cup-anteversion'),
    PlausibleHead: value('plausible-head-diameter'),
    PlausibleNeck: value('plausible-neck-diameter'),
    PlausibleMobileLiner: value('plausible-mobile-liner-diameter'),
    PlausibleStrength: value('plausible-abductor-strength'),
    PlausibleDifference: value('plausible-leg-length-discrepancy'),
    PlausibleChange: value('plausible-leg-length-change'),
  };
}

/** Every coding anywhere in the records. */
function codesIn(records: readonly SentRecord[]): readonly Code[] {
  const found = new Map<string, Code>();
  const walk = (value: unknown): void => {
    if (Array.isArray(value)) value.forEach(walk);
    else if (typeof value === 'object' && value !== null) {
      const { system, code } = value as Partial<Code>;
      if (typeof system === 'string' && typeof code === 'string')
        found.set(`${system}|${code}`, { system, code });
      Object.values(value).forEach(walk);
    }
  };
  records.forEach(({ bundle }) => walk(bundle));
  return [...found.values()];
}

function codeService(records: readonly SentRecord[]): CodeService {
  const codes = codesIn(records);
  const urls = Object.values(LIBRARIES).flatMap(
    ({ library }) => library.valueSets?.def.map(({ id }) => id) ?? [],
  );
  return new CodeService(
    Object.fromEntries(
      [...new Set(urls)].map((url) => {
        const expansion = expand(url.slice(url.lastIndexOf('/') + 1), codes);
        return [url, { '1': expansion.map((code) => ({ ...code, version: '1' })) }];
      }),
    ),
  );
}

/** What was found, by patient and name of the expression. */
interface Results {
  readonly patientResults: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
}

export interface Cql {
  /** The answers about one hip and construct, record by record. */
  ask(place: Place, records: readonly SentRecord[]): Promise<readonly CqlAnswer[]>;
}

/** Everything that is made once: value sets expanded over the codes of these records, limits, and the one source. */
export function newCql(records: readonly SentRecord[], rulebook: Rulebook, now: string): Cql {
  const executor = new Executor(LIBRARY, codeService(records));
  const limits = limitsOf(rulebook);
  const source = PatientSource.FHIRv401();
  const at = DateTime.fromJSDate(new Date(now), 0);
  const askAlike = async (place: Place, alike: readonly SentRecord[]): Promise<[string, CqlAnswer][]> => {
    const [one] = alike;
    if (!one) return [];
    source.reset();
    source.loadBundles(alike.map(({ bundle }) => bundle));
    executor.withParameters({
      ...limits,
      Hip: place.hip,
      Construct: place.construct,
      ProblemListRead: one.isProblemListRead,
      ProceduresRead: one.areProceduresRead,
    });
    const results: Results = await executor.exec(source, at);
    return Object.entries(results.patientResults).map(([id, found]) => [id, answerOf(found)]);
  };
  return {
    async ask(place, records) {
      const groups = [true, false].flatMap((problems) =>
        [true, false].map((procedures) =>
          records.filter(
            (record) => record.isProblemListRead === problems && record.areProceduresRead === procedures,
          ),
        ),
      );
      const answers = new Map<string, CqlAnswer>();
      for (const group of groups)
        for (const [id, answer] of await askAlike(place, group)) answers.set(id, answer);
      return records.map(({ id }) => {
        const answer = answers.get(id);
        if (!answer) throw new Error(`no answer about ${id}`);
        return answer;
      });
    },
  };
}

type Truth = boolean | null;

function answerOf(found: Readonly<Record<string, unknown>>): CqlAnswer {
  const outcomes = RULES.map((rule) => {
    const { applies, fires } = found[rule] as { readonly applies: Truth; readonly fires: Truth };
    return [rule, outcomeOf(applies, fires)] as const;
  });
  return {
    outcomes: Object.fromEntries(outcomes) as Record<RuleId, Outcome>,
    planned: found['Planned hips'] as readonly string[],
    inPlace: found['Hips in place'] as readonly string[],
  };
}

function outcomeOf(applies: Truth, fires: Truth): Outcome {
  for (const truth of [applies, fires])
    if (truth !== null && typeof truth !== 'boolean')
      throw new TypeError(`neither true, false nor null: ${String(truth)}`);
  if (applies === false) return 'not-applicable';
  if (applies === null || fires === null) return 'cannot-tell';
  return fires ? 'fires' : 'does-not-fire';
}
