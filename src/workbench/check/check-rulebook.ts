import type { ComputationTable } from '../../engine/computation.js';
import { buildRulebook } from '../../rulebook/build.js';
import { jsonSchemas } from '../../rulebook/json-schemas.js';
import type { RulebookIssue } from '../../rulebook/pack.js';
import { parsePack } from '../../rulebook/parse-pack.js';
import type { ParsedPack } from '../../rulebook/parse-pack.js';
import type { Rulebook } from '../../rulebook/types.js';
import { checkCitations } from './check-citations.js';
import { checkCodes } from './check-codes.js';
import { HAZARD_FILE, checkHazards } from './check-hazards.js';
import { checkOpposing } from './check-opposing.js';
import { checkPatients } from './check-patients.js';
import { checkReach } from './check-reach.js';
import { checkRelease } from './check-release.js';
import type { PlacedRule } from './check-reach.js';
import { checkShadows } from './check-shadows.js';
import { checkThresholds } from './check-thresholds.js';
import { checkUnits } from './check-units.js';
import type { UnitKnowledge } from './check-units.js';
import { checkWording } from './check-wording.js';
import type { ReadRelease } from '../../rulebook-files/read-release.js';
import type { Evidence } from './evidence.js';
import { CHECKS } from './finding.js';
import type { CheckFinding, CheckName, Fault } from './finding.js';
import { locator } from './locate.js';
import { brokenJson, repeatedIn } from './rule-texts.js';
import type { RuleTexts } from './rule-texts.js';
import type { Sample } from './sampled-hips.js';
import { checkAttributes } from './source-attributes.js';
import { compareText } from '../../base/order.js';

export interface CheckInput {
  readonly rules: RuleTexts;
  readonly computations: ComputationTable;
  readonly units: UnitKnowledge;
  /** Without records, citations are not compared with what was read. */
  readonly evidence?: Evidence;
  /** The rules of which some test patient expects a card; without test patients, nothing is said of them. */
  readonly expectedRules?: ReadonlySet<string>;
  /** JSON Schemas as written beside the rulebook, by name; compared with the definitions. */
  readonly schemas?: ReadonlyMap<string, string>;
  /** The hazard log beside the rulebook, as text. */
  readonly hazards?: string;
  /** The rulebooks released of these rules, the newest last; without any, nothing is compared. */
  readonly releases?: readonly ReadRelease[];
  readonly sample: Sample;
  /** Told after each sampled hip. */
  readonly onProgress?: (done: number) => void;
}

export interface CheckResult {
  /** Sorted by file and line. */
  readonly findings: readonly CheckFinding[];
  /** Told, and nothing to fail for. */
  readonly notes: readonly CheckFinding[];
  /** What was not checked, and why. */
  readonly skipped: readonly { readonly check: CheckName; readonly why: string }[];
  /** Only when the rulebook can be loaded. */
  readonly rulebook?: Rulebook;
  /** In how many of the sampled states each rule fired. */
  readonly fired?: ReadonlyMap<string, number>;
}

/** Everything that can be found wrong in a rulebook without running it on patients, each with file and line. */
export async function checkRulebook(input: CheckInput): Promise<CheckResult> {
  const { pack } = input.rules;
  const texts = textsOf(input);
  const broken = [...texts].flatMap(([file, text]) => brokenJson(file, text));
  if (broken.length > 0) {
    const why = 'a file is no JSON';
    return resultOf(
      broken,
      CHECKS.filter((check) => check !== 'syntax').map((check) => ({ check, why })),
    );
  }
  const parsed = parsePack(pack, []);
  const built = buildRulebook(pack, Object.keys(input.computations));
  const faults: Fault[] = built.ok ? [] : built.issues.map(formFault);
  faults.push(...checkTexts(parsed, input));
  const skipped = skippedIn(input, built.ok);
  const locate = locator(texts);
  const repeated = [...texts].flatMap(([file, text]) => repeatedIn('form', file, text));
  const located = (all: readonly Fault[]): readonly CheckFinding[] => [
    ...repeated,
    ...all.map((fault) => ({ ...fault, line: locate(fault) })),
  ];
  if (!built.ok) return resultOf(located(faults), skipped);
  const placed = placedRules(parsed, built.rulebook);
  faults.push(...checkReach(placed, built.rulebook), ...checkShadows(placed, built.rulebook));
  const { computations, sample, onProgress = () => undefined } = input;
  const opposing = await checkOpposing(placed, built.rulebook, computations, { sample, onProgress });
  faults.push(...opposing.faults);
  return { ...resultOf(located(faults), skipped), rulebook: built.rulebook, fired: opposing.fired };
}

/** What is seen in the files themselves, whether or not they make a rulebook. */
function checkTexts(parsed: ParsedPack, input: CheckInput): readonly Fault[] {
  return [
    ...(input.schemas ? checkSchemas(input.schemas) : []),
    ...checkCitations(parsed, input.evidence),
    ...checkCodes(parsed),
    ...checkUnits(parsed, input.units),
    ...checkThresholds(parsed),
    ...checkWording(parsed),
    ...checkAttributes(parsed),
    ...(input.expectedRules ? checkPatients(parsed, input.expectedRules) : []),
    ...(input.hazards === undefined ? [] : hazardFaults(input.hazards)),
    ...releaseFaults(parsed, input),
  ];
}

/** A released pack that is not what it was is told as its own fault, and nothing is compared with it. */
function releaseFaults(parsed: ParsedPack, { rules, releases = [] }: CheckInput): readonly Fault[] {
  const edited = releases.flatMap(({ file, read }): readonly Fault[] =>
    read.ok
      ? []
      : [
          {
            check: 'release',
            severity: 'error',
            file,
            path: '',
            expected: read.expected,
            found: read.found,
          },
        ],
  );
  const newest = releases.at(-1)?.read;
  return [...edited, ...checkRelease(parsed, rules.pack, newest?.ok ? newest.pack : undefined)];
}

/** The files of the pack, and the hazard log that stands beside them. */
function textsOf({ rules, hazards }: CheckInput): ReadonlyMap<string, string> {
  return hazards === undefined ? rules.texts : new Map([...rules.texts, [HAZARD_FILE, hazards]]);
}

function hazardFaults(text: string): readonly Fault[] {
  return checkHazards(JSON.parse(text)).map((fault) => ({
    check: 'hazards',
    severity: 'error',
    file: HAZARD_FILE,
    ...fault,
  }));
}

/** A computation without a file is told as a fault of the file it should have. */
function formFault(issue: RulebookIssue): Fault {
  const base = { check: 'form' as const, severity: 'error' as const, ...issue };
  return issue.file === 'computations'
    ? { ...base, file: `computations/${issue.path}.json`, path: '' }
    : base;
}

function checkSchemas(written: ReadonlyMap<string, string>): readonly Fault[] {
  return [...jsonSchemas()].flatMap(([name, text]) =>
    written.get(name) === text
      ? []
      : [
          {
            check: 'schema' as const,
            severity: 'error' as const,
            file: `schema/${name}.schema.json`,
            path: '',
            expected: 'the schema as defined now (npm run schemas)',
            found: written.has(name) ? 'an older one' : 'none',
          },
        ],
  );
}

function placedRules(parsed: ParsedPack, rulebook: Rulebook): readonly PlacedRule[] {
  const files = new Map(parsed.rules.map(({ file, value }) => [value.id, file]));
  return rulebook.rules.map((rule) => ({ file: files.get(rule.id) ?? '', rule }));
}

function skippedIn(input: CheckInput, isBuilt: boolean): CheckResult['skipped'] {
  const needing = (['reach', 'shadow', 'opposing'] as const).map((check) => ({
    check,
    why: 'the rulebook can not be loaded',
  }));
  return [
    ...(isBuilt ? [] : needing),
    ...(input.evidence ? [] : [{ check: 'citations' as const, why: 'no evidence records to compare with' }]),
    ...(input.expectedRules ? [] : [{ check: 'patients' as const, why: 'no test patients' }]),
    ...(input.schemas ? [] : [{ check: 'schema' as const, why: 'no JSON Schemas beside the rulebook' }]),
    ...(input.hazards === undefined
      ? [{ check: 'hazards' as const, why: 'no hazard log beside the rulebook' }]
      : []),
    ...(input.releases === undefined || input.releases.length === 0
      ? [{ check: 'release' as const, why: 'nothing was released yet to compare with' }]
      : []),
  ];
}

function resultOf(
  all: readonly CheckFinding[],
  skipped: CheckResult['skipped'],
): Pick<CheckResult, 'findings' | 'notes' | 'skipped'> {
  const sorted = [...all].sort(
    (a, b) =>
      compareText(a.file, b.file) ||
      a.line - b.line ||
      compareText(a.path, b.path) ||
      compareText(a.expected, b.expected) ||
      compareText(a.found, b.found),
  );
  return {
    findings: sorted.filter(({ severity }) => severity === 'error'),
    notes: sorted.filter(({ severity }) => severity === 'note'),
    skipped,
  };
}
