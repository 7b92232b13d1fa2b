import { COMPUTATION_IDS, newAdvisor } from '../../src/advice/index.js';
import { readChecked } from '../../src/workbench/checked-file.js';
import type { Checked } from '../../src/workbench/checked-file.js';
import { survivorsSchema } from '../../src/workbench/mutate/survivors.js';
import { ruleSources } from '../../src/workbench/rule-sources.js';
import { SHIPPED } from '../../src/workbench/shipped-fixtures.js';
import { readTestPatients } from '../../src/workbench/test-patients.js';
import { readCases } from '../../src/workbench/trial/read-cases.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import type { Rulebook } from '../../src/rulebook/types.js';
import { shipped, shippedPack } from '../rulebook/shipped.js';

export { shipped, shippedPack };

/** Insists that what was read has no fault. */
export function sound<Value>(read: Checked<Value>): Value {
  if (!read.ok) throw new Error(read.faults.join('\n'));
  return read.value;
}

export const sources = ruleSources(shippedPack);
export const patients = sound(readTestPatients(SHIPPED.patients));
export const setting = { advisor: newAdvisor(shipped), engine: '0.1.0' };

export const patientsAndEdges = sound(
  readCases({ patients: SHIPPED.patients, edges: SHIPPED.edges }, shipped),
);

export const reviewed = sound(readChecked(SHIPPED.survivors, survivorsSchema)).survivors;

/** The shipped rulebook with some files in another form, read as the loader reads it. */
export function changedRulebook(change: (path: string, content: unknown) => unknown): {
  readonly rulebook: Rulebook;
  readonly sources: ReturnType<typeof ruleSources>;
} {
  const pack = {
    files: shippedPack.files.map(({ path, content }) => ({ path, content: change(path, content) })),
  };
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok) throw new Error(JSON.stringify(built.issues));
  return { rulebook: built.rulebook, sources: ruleSources(pack) };
}
