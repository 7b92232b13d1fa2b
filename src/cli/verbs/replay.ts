import type { Command } from 'commander';
import { newAdvisor } from '../../advice/index.js';
import type { AdviceInput } from '../../advice/index.js';
import { inputsFromBundle } from '../../advice/hook-inputs.js';
import type { Config } from '../../server/config.js';
import { inputOf } from '../../server/decision-content.js';
import { compareInputs, replay } from '../../server/replay.js';
import type { Decided } from '../../server/replay.js';
import { ENGINE_VERSION } from '../../server/serve.js';
import type { Card } from '../../render/card-types.js';
import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import { newPseudonyms } from '../../store/pseudonym.js';
import type { Pseudonyms } from '../../store/pseudonym.js';
import type { DecisionRecord } from '../../store/store.js';
import { rulebookOf, siteOf } from '../decided-by.js';
import { readTextFile } from '../input.js';
import { CallError } from '../io.js';
import type { Io } from '../io.js';
import { settings, withStore } from '../kept-store.js';
import { readPatientBundle } from '../../workbench/evaluate/read-bundle.js';

interface ReplayOptions {
  readonly bundle?: string;
}

/** Adds `replay`: makes a decision again from what it was made from, and tells what is not as it was. */
export function replayCommand(program: Command, io: Io): void {
  program
    .command('replay')
    .argument('<evaluation>', 'the id of a decision, as cards and records name it')
    .description(
      'make a decision again, with the rulebook of its time, and say whether anything is not as it was',
    )
    .option(
      '--bundle <file>',
      "the patient's resources as a FHIR R4 Bundle, when contents are no longer kept",
    )
    .addHelpText('after', HELP)
    .action(async (id: string, options: ReplayOptions) => {
      const config = settings();
      const kept = await withStore(config, io, async (store) => ({
        record: await store.decision(id),
        content: await store.content(id),
      }));
      const { record, content } = kept;
      if (!record) throw new CallError(`expected a kept decision, found none under ${id}`);
      if (!config.pseudonymKey)
        throw new CallError('KOTYLE_PSEUDONYM_KEY: expected the key of the service, found none');
      const pseudonyms = newPseudonyms(config.pseudonymKey);
      const knowledge = { ...knowledgeOf(record, config), pseudonyms };
      if (record.engine !== ENGINE_VERSION)
        io.err(`kotyle: decided by engine ${record.engine}, made again by ${ENGINE_VERSION}\n`);
      if (options.bundle !== undefined) {
        const input = inputFromBundle(options.bundle, record, knowledge);
        if (tellInputs(input, record, knowledge, io)) await tellReplay(input, { record }, knowledge, io);
        return;
      }
      if (!content)
        throw new CallError(
          `expected the contents of ${id}, found none: past their time, erased, or sealed under another KOTYLE_CONTENT_KEY`,
          'kotyle replay <evaluation> --bundle <file>',
        );
      const input = inputOf(content, { site: knowledge.site, nameSecret: pseudonyms.secret });
      if (!input) throw new CallError(`expected a service of this version, found ${record.service}`);
      await tellReplay(input, { record, cards: content.cards as unknown as readonly Card[] }, knowledge, io);
    });
}

const HELP = `
The store and its keys are those of the service: KOTYLE_STORE, KOTYLE_CONTENT_KEY, KOTYLE_PSEUDONYM_KEY. The
rulebook is found by its hash: the one shipped, those released, or KOTYLE_RULEBOOK; a site by KOTYLE_SITE. With --bundle
the resources must be those that were read then, which are known by digest. Ends with 1 when something is not as it was.

Examples:
  kotyle replay 9f1c2a52-3f0e-8b8e-9a55-000000000001
  kotyle replay 9f1c2a52-3f0e-8b8e-9a55-000000000001 --bundle patient.json`;

interface Knowledge {
  readonly rulebook: Rulebook;
  readonly site?: Site;
  readonly pseudonyms: Pseudonyms;
}

function knowledgeOf(record: DecisionRecord, config: Config): Omit<Knowledge, 'pseudonyms'> {
  const rulebook = rulebookOf(record, config);
  const site = siteOf(record, config, rulebook);
  return { rulebook, ...(site && { site }) };
}

async function tellReplay(
  input: AdviceInput,
  decided: Decided,
  { rulebook, site }: Knowledge,
  io: Io,
): Promise<void> {
  const changed = await replay(input, decided, { advisor: newAdvisor(rulebook), ...(site && { site }) });
  const { outcomes, cards } = decided.record;
  const held = decided.cards ? 'byte for byte' : 'by id, rule and indicator';
  io.out(
    changed.length === 0
      ? `as it was: ${outcomes.length} outcomes, and ${cards.length} cards ${held}\n`
      : `${changed.join('\n')}\n`,
  );
  io.setExitCode(changed.length === 0 ? 0 : 1);
}

/** The call as it would be made for the patient of a Bundle, in the name and at the time of the decision. */
function inputFromBundle(path: string, record: DecisionRecord, knowledge: Knowledge): AdviceInput {
  const found = readPatientBundle(readTextFile(path, 'a FHIR R4 Bundle'), path);
  if (!found.ok) throw new CallError(found.message, found.advice);
  const { hook, at: now, engine, iss, hookInstance } = record;
  const { rulebook, site, pseudonyms } = knowledge;
  const setting = { rulebook, ...(site && { site }), now, engine };
  const input = inputsFromBundle(found.bundle, [hook as AdviceInput['service']['hook']], setting).find(
    ({ service }) => service.id === record.service,
  );
  if (!input) throw new CallError(`${path}: expected something to answer at ${hook}, found nothing`);
  return { ...input, iss, hookInstance, nameSecret: pseudonyms.secret };
}

/** Whether the Bundle holds what was read then and nothing else; tells what it does not. */
function tellInputs(
  input: AdviceInput,
  record: DecisionRecord,
  { rulebook, pseudonyms }: Knowledge,
  io: Io,
): boolean {
  const { matched, missing, added } = compareInputs(input, record, { rulebook, pseudonyms });
  if (missing.length + added.length === 0) return true;
  const counted = (types: readonly string[]): string => (types.length === 0 ? 'none' : types.join(', '));
  io.out(
    `the Bundle is not what was read: ${matched} of ${record.inputs.length} resources are the same; missing: ${counted(missing)}; not read then: ${counted(added)}\n`,
  );
  io.setExitCode(1);
  return false;
}
