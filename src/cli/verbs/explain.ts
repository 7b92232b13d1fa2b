import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Command } from 'commander';
import type { Rulebook } from '../../rulebook/types.js';
import { explainRule } from '../../render/evidence/explain-rule.js';
import type { PatientCards } from '../../render/evidence/explain-rule.js';
import { explainText } from '../../workbench/explain/explain-text.js';
import { nearestNames } from '../../workbench/explain/nearest.js';
import { readTestPatients } from '../../workbench/test-patients.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { loadKnowledge, withRules } from '../knowledge.js';

interface ExplainOptions {
  readonly rules?: string;
  readonly patients?: string;
  readonly json?: true;
}

/** Test patients of a checkout; an installed package may have none. */
const PATIENTS = fileURLToPath(new URL('../../../fixtures/patients', import.meta.url));

/** Adds `explain`: one rule in words. */
export function explainCommand(program: Command, io: Io): void {
  withRules(program.command('explain'))
    .argument('<rule>', 'id of a rule')
    .description(
      'tell one rule in words: when it applies and fires, what it says, on whose evidence, who shows it',
    )
    .option('--patients <folder>', 'test patients to look for it in (default: those of a checkout)')
    .option('--json', 'one JSON document on standard output')
    .addHelpText('after', '\nExample:\n  kotyle explain cup-inclination-outside-published')
    .action((id: string, options: ExplainOptions) => {
      const { rulebook } = loadKnowledge(options);
      const explained = explainRule(ruleNamed(id, rulebook), rulebook, patientsOf(options));
      io.out(
        options.json
          ? `${JSON.stringify(explained, undefined, 2)}\n`
          : explainText(explained, rulebook.about.deferral),
      );
      io.setExitCode(0);
    });
}

function ruleNamed(id: string, { rules }: Rulebook): Rulebook['rules'][number] {
  const rule = rules.find((one) => one.id === id);
  if (rule) return rule;
  const ids = rules.map((one) => one.id);
  const near = nearestNames(id, ids);
  throw new CallError(
    `expected the id of a rule, found ${id}`,
    near.length > 0 ? near.join(', ') : `one of ${ids.join(', ')}`,
  );
}

function patientsOf({ patients }: ExplainOptions): readonly PatientCards[] {
  if (patients === undefined && !existsSync(PATIENTS)) return [];
  const read = readTestPatients(patients ?? PATIENTS);
  if (!read.ok) throw new CallError(`--patients: ${read.faults.join('\n')}`);
  return read.value;
}
