import { Router } from 'express';
import { SITE_SERVICES } from '../../rulebook/governance-schema.js';
import { serviceState, signatureOf } from '../../rulebook/governance.js';
import type { ServiceParts } from '../app.js';
import { allowOnly, answerProblem } from '../problems.js';

/** Whether the process lives, and whether it can answer calls. Neither says anything of a patient or a client. */
export function health(
  parts: Pick<ServiceParts, 'installation' | 'engineVersion' | 'readiness' | 'config'>,
): Router {
  const router = Router();
  // Answered without asking the store or anybody else: a service that only waits for its database need not be killed.
  router.get('/health', (_request, response) => {
    response.json({ status: 'ok', ...knowledgeOf(parts) });
  });
  router.get('/ready', async (_request, response) => {
    const issues = await parts.readiness();
    if (issues.length > 0) answerProblem(response, issues);
    else response.json({ status: 'ready', ...knowledgeOf(parts), ...speakingOf(parts) });
  });
  router.all(['/health', '/ready'], allowOnly('GET'));
  return router;
}

function knowledgeOf({
  installation,
  engineVersion,
}: Pick<ServiceParts, 'installation' | 'engineVersion'>): Readonly<Record<string, unknown>> {
  const { advisor, site } = installation();
  const { about, hash } = advisor.rulebook;
  return {
    engine: engineVersion,
    rulebook: about.version,
    rulebookHash: hash,
    rulebookStatus: about.status,
    ...(site && { site: `${site.id} ${site.version}`, siteHash: site.hash }),
  };
}

/** Whether anybody signed what is in force, and what each service does: a service may be ready and say nothing. */
function speakingOf({
  installation,
  config: { mode },
}: Pick<ServiceParts, 'installation' | 'config'>): Readonly<Record<string, unknown>> {
  const { advisor, site } = installation();
  const governed = { rulebook: advisor.rulebook, ...(site && { site }), mode };
  return {
    mode,
    signature: signatureOf(governed),
    services: Object.fromEntries(
      SITE_SERVICES.map((service) => [service, serviceState(governed, service).state]),
    ),
  };
}
