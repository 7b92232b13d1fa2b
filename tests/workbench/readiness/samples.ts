import type { AdviceInput } from '../../../src/advice/index.js';
import { HOOKS_BY_NAME, inputsFromBundle } from '../../../src/advice/hook-inputs.js';
import type { EvaluationSetting } from '../../../src/advice/hook-inputs.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import type { Hazard } from '../../../src/rulebook/hazard-schema.js';
import type { Site } from '../../../src/rulebook/site.js';
import { readinessOf } from '../../../src/workbench/readiness/readiness.js';
import type { ReadinessParts } from '../../../src/workbench/readiness/readiness.js';
import type { Readiness } from '../../../src/workbench/readiness/readiness-types.js';
import type { SampleMember } from '../../../src/workbench/readiness/sample-member.js';
import { advisor, NOW, rulebook, testPatient } from '../../advice/patients.js';
import { northCampus } from '../../facts/sites.js';

export function settingWith(site?: Site): EvaluationSetting {
  return { rulebook, ...(site && { site }), now: NOW, engine: '0.2.0' };
}

/** A patient kept as one Bundle, as a member of a sample. */
export function bundleMember(bundle: JsonObject, setting: EvaluationSetting = settingWith()): SampleMember {
  return { where: 'a file', form: 'bundle', inputs: inputsFromBundle(bundle, HOOKS_BY_NAME.all, setting) };
}

/** One recorded hook call. */
export function callMember(input: AdviceInput): SampleMember {
  return { where: 'a line', form: 'call', inputs: [input] };
}

export async function readinessWith(
  members: readonly SampleMember[],
  change: Partial<ReadinessParts> = {},
): Promise<Readiness> {
  return await readinessOf(members, {
    setting: settingWith(),
    advisor,
    over: 'a few members',
    hazards: [],
    ...change,
  });
}

/** A report with something in every section: an installation, a call, Bundles, a line that can't be read, an open hazard. */
export async function smallReadiness(): Promise<Readiness> {
  const setting = settingWith(northCampus);
  const names = ['demo-parkinson-steep-cup', 'nothing-known', 'knee-replacement', 'staged-bilateral'];
  const members = names.map((name) => bundleMember(testPatient(name).bundle, setting));
  const hazard: Hazard = {
    id: 'HZ-99',
    hazard: 'An <invented> hazard',
    cause: 'a test',
    sequence: 'a test',
    harm: 'none',
    before: { severity: 'minor', likelihood: 'low', risk: 1 },
    after: { severity: 'minor', likelihood: 'low', risk: 1 },
    controls: [{ state: 'planned', kind: 'design', says: 'a test' }],
    status: 'open',
    remains: 'everything',
    owner: 'nobody',
    review: { state: 'draft' },
  };
  return await readinessWith(
    [...members, { where: 'line 5', why: 'expected JSON, found <something> else' }],
    {
      setting,
      hazards: [hazard],
      timed: { elapsedMs: () => 0, machine: 'a machine' },
    },
  );
}
