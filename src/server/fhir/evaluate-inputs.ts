import { createHash } from 'node:crypto';
import type { AdviceInput } from '../../advice/index.js';
import { HOOKS_BY_NAME, inputsFromBundle, inputsFromServer } from '../../advice/hook-inputs.js';
import { setsOf } from '../../advice/record-sets.js';
import { listUuid } from '../../base/hash.js';
import type { Result } from '../../base/result.js';
import { failed, issue, ok } from '../../base/result.js';
import type { ServiceParts } from '../app.js';
import type { Caller } from '../auth/caller.js';
import type { Installation } from '../installation.js';
import { locationOf } from '../served-at.js';
import type { EvaluateRequest, EvaluateSource } from './evaluate-request.js';
import { evaluateService } from './evaluate-service.js';

export interface EvaluateCall {
  readonly asked: EvaluateRequest;
  readonly caller: Caller;
  readonly installation: Installation;
  /** The request as it came: the same request has the same name. */
  readonly body: Uint8Array | undefined;
}

/** The occasions at which the services would speak of this patient, each as the call that is then made. */
export async function evaluateInputs(
  { asked, caller, installation, body }: EvaluateCall,
  parts: ServiceParts,
): Promise<Result<readonly AdviceInput[]>> {
  const { advisor, site } = installation;
  const setting = {
    rulebook: advisor.rulebook,
    ...(site && { site }),
    now: asked.now ?? parts.now().toISOString(),
    engine: parts.engineVersion,
  };
  const { source } = asked;
  const inputs =
    source.kind === 'data'
      ? ok(inputsFromBundle(source.bundle, HOOKS_BY_NAME.all, setting))
      : await serverInputs(source, { setting, caller }, parts);
  if (!inputs.ok) return inputs;
  // Made with a secret: whoever has the name may not find out by guessing what was in the request.
  const { secret } = parts.pseudonyms;
  const digest = createHash('sha256')
    .update(body ?? '')
    .digest('hex');
  return ok(
    inputs.value.map((input) => ({
      ...input,
      service: evaluateService(input.service.hook),
      hookInstance: listUuid([secret, input.patientId, input.service.hook, digest]),
      nameSecret: secret,
      iss: caller.iss,
      mode: parts.config.mode,
      ...locationOf(parts),
    })),
  );
}

type Setting = Parameters<typeof inputsFromServer>[2];

async function serverInputs(
  { patientId, fhirServer, access }: Extract<EvaluateSource, { kind: 'server' }>,
  { setting, caller }: { readonly setting: Setting; readonly caller: Caller },
  parts: ServiceParts,
): Promise<Result<readonly AdviceInput[]>> {
  const session = parts.recordReader.open({ fhirServer, ...access, among: caller.fhirServers });
  if (!session)
    return failed(
      issue('not-allowed', 'fhirServer', 'expected a FHIR server the operator allows this client'),
    );
  const sets = await session.readSets(setsOf(patientId, setting.rulebook, setting.site));
  if (sets.get('patient')?.status !== 'complete')
    return failed(
      issue('data-unobtainable', 'subject', 'expected to read the Patient from fhirServer, could not'),
    );
  return ok(inputsFromServer({ base: fhirServer, patientId, sets }, HOOKS_BY_NAME.all, setting));
}
