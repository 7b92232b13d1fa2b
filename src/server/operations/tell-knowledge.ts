import type { Logger } from 'pino';
import { governance } from '../../rulebook/governance-report.js';
import type { Config } from '../config.js';
import type { Installation } from '../installation.js';

/** Says in the log what has come into force: which knowledge, who signed it, what speaks, and what keeps quiet. */
export function tellKnowledge(
  { advisor: { rulebook }, site }: Installation,
  { mode }: Pick<Config, 'mode'>,
  { log, now }: { readonly log: Logger; readonly now: () => Date },
): void {
  const governed = governance({ rulebook, ...(site && { site }) }, mode, now().toISOString());
  log.info(
    {
      mode,
      rulebook: governed.rulebook,
      ...(governed.site && { site: governed.site }),
      signature: governed.signature,
      services: Object.fromEntries(
        governed.services.map(({ service, state, why }) => [service, { state, why }]),
      ),
      rules: Object.fromEntries(governed.rules.map(({ rule, state, ended }) => [rule, { state, ended }])),
      parameters: Object.fromEntries(
        governed.parameters.map(({ parameter, value, ended }) => [parameter, { value, ended }]),
      ),
    },
    'knowledge in force',
  );
  for (const notice of governed.notices) log.warn(notice, 'the site file should be looked after');
}
