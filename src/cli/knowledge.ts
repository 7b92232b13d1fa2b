import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { COMPUTATION_IDS } from '../advice/index.js';
import { loadPack } from '../rulebook-files/load-pack.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { loadSite } from '../rulebook-files/read-site.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import { SHIPPED_RULES } from '../server/serve.js';
import { CallError } from './io.js';

/** Options that name the knowledge a verb works with. */
export interface KnowledgeOptions {
  readonly rules?: string;
  /** A released pack, in place of a folder. */
  readonly rulebook?: string;
  readonly site?: string;
}

/** Adds `--rules` to a verb. */
export function withRules(command: Command): Command {
  return command.option('--rules <folder>', 'rules to use (default: those shipped)');
}

/** Adds `--rules` and `--site` to a verb. */
export function withKnowledge(command: Command): Command {
  return withRules(command).option('--site <file>', 'site file of one installation: its codes and defaults');
}

/** Adds `--rules`, `--rulebook` and `--site` to a verb. */
export function withReleases(command: Command): Command {
  return withKnowledge(command).option('--rulebook <pack>', 'a released pack to use in place of a folder');
}

/** The folder of rules a call names, or the shipped one; CallError when it is none. */
export function rulesFolder({ rules }: KnowledgeOptions): string {
  if (rules === undefined) return SHIPPED_RULES;
  if (!existsSync(rules))
    throw new CallError(`--rules: expected a folder of rules, found nothing at ${rules}`);
  if (!statSync(rules).isDirectory())
    throw new CallError(`--rules: expected a folder of rules, found a file at ${rules}`);
  if (!existsSync(join(rules, 'rulebook.json')))
    throw new CallError(
      `--rules: expected a folder with rulebook.json, found none in ${rules}`,
      'name the folder that holds rulebook.json, advisories, facts and the others',
    );
  return rules;
}

/** Reads and checks the rulebook, and the site file where one is named; faults are told with file, path, expected, found. */
export function loadKnowledge(options: KnowledgeOptions): {
  readonly rulebook: Rulebook;
  readonly site?: Site;
} {
  const rulebook = asCall(() => rulebookOf(options), 'kotyle check tells each fault');
  const path = options.site;
  if (path === undefined) return { rulebook };
  if (!existsSync(path) || !statSync(path).isFile())
    throw new CallError(
      `--site: expected a site file, found ${existsSync(path) ? 'a folder' : 'nothing'} at ${path}`,
    );
  return { rulebook, site: asCall(() => loadSite(path, rulebook)) };
}

function rulebookOf(options: KnowledgeOptions): Rulebook {
  if (options.rulebook === undefined) return loadRulebook(rulesFolder(options), COMPUTATION_IDS);
  if (options.rules !== undefined)
    throw new CallError('--rules and --rulebook: expected one of them, found both');
  return loadPack(options.rulebook, COMPUTATION_IDS);
}

function asCall<Value>(load: () => Value, advice?: string): Value {
  try {
    return load();
  } catch (error) {
    if (error instanceof CallError || !(error instanceof Error)) throw error;
    throw new CallError(error.message, advice, { cause: error });
  }
}
