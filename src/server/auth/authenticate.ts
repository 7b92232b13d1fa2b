import type { Request, RequestHandler, Response } from 'express';
import { issue } from '../../base/result.js';
import type { ServiceParts } from '../app.js';
import { withRequestLog } from '../operations/arrival.js';
import { answerProblem } from '../problems.js';
import { audiencesOf } from './audiences.js';
import type { Root } from './audiences.js';
import { NOBODY, setCaller } from './caller.js';
import type { Caller } from './caller.js';
import { FHIR_ENDPOINT } from './clients-file.js';
import type { Client } from './clients-file.js';
import { fetchKeySet } from './fetch-key-set.js';
import { newKeySets } from './key-sets.js';
import { newRefusalLog } from './refusal.js';
import { newSeenTokens } from './seen-tokens.js';
import { verifyToken } from './verify-token.js';
import type { Verdict, Verifier } from './verify-token.js';

/**
 * Finds out who makes a call, before anything of it is read. In production every call needs a token of a client on the
 * list; whatever is wrong with it, the answer is the same 401 without a word, and only the log knows why.
 */
export function authenticate(parts: ServiceParts): (root: Root) => RequestHandler {
  const { config } = parts;
  if (config.mode === 'development')
    return () => (_request, response, next) => {
      setCaller(response, { iss: NOBODY });
      next();
    };
  const { publicUrl } = config;
  if (publicUrl === undefined) throw new TypeError('expected a public URL in production, found none');
  const verifier = newVerifier(parts);
  const logRefusal = newRefusalLog(() => parts.now().getTime());
  return (root) => async (request, response, next) => {
    const verdict = await verifyToken(
      authorizationOf(request),
      {
        audiences: audiencesOf(publicUrl, root, request.path),
        nowS: Math.floor(parts.now().getTime() / 1000),
        maxAgeS: config.tokenMaxAgeS,
        skewS: config.tokenSkewS,
      },
      verifier,
    );
    if (verdict.kind === 'refused') {
      logRefusal(withRequestLog(parts, response).log, verdict.refusal);
      parts.metrics.refusedToken(verdict.refusal.reason);
    }
    if (admit(verdict, response, serviceOf(root, request))) next();
  };
}

function newVerifier({ clients = [], config, log, now, store }: ServiceParts): Verifier {
  const nowMs = (): number => now().getTime();
  const inside = newKeySets({ fetchSet: (url) => fetchKeySet(url, true), log, nowMs });
  const outside = newKeySets({ fetchSet: (url) => fetchKeySet(url, false), log, nowMs });
  return {
    clients,
    keySetsOf: ({ jkuOnPrivateNetwork }) => (jkuOnPrivateNetwork ? inside : outside),
    seen: newSeenTokens({ store, log }),
    storeRequired: config.audit === 'required',
  };
}

/** Several headers together are no token: which of them counts would be a guess. */
function authorizationOf(request: Request): string {
  return (request.headersDistinct['authorization'] ?? []).join(', ');
}

function serviceOf(root: Root, request: Request): string | undefined {
  return root === '/fhir' ? FHIR_ENDPOINT : request.path.split('/').find((segment) => segment !== '');
}

/** Sets the caller, or answers; whether the call may go on. */
function admit(verdict: Verdict, response: Response, service: string | undefined): boolean {
  switch (verdict.kind) {
    case 'refused':
      response.status(401).set('WWW-Authenticate', 'Bearer').end();
      return false;
    case 'undecided':
      answerProblem(response, [
        issue('not-stored', '', 'expected to remember the token as used, could not; send another'),
      ]);
      return false;
    case 'accepted':
      break;
  }
  const { client } = verdict;
  setCaller(response, callerFrom(client, verdict.tenant));
  if (service === undefined || !client.services || client.services.includes(service)) return true;
  answerProblem(response, [issue('not-allowed', '', 'expected a service this client may call')]);
  return false;
}

function callerFrom(client: Client, tenant: string | undefined): Caller {
  const { iss, fhirServers, callsPerMinute } = client;
  // Only tenants on a list are counted apart: a client may not get more calls by making up names.
  const key = JSON.stringify([iss, client.tenants ? tenant : undefined]);
  return {
    iss,
    ...(tenant !== undefined && { tenant }),
    ...(fhirServers && { fhirServers }),
    limit: { key, ...(callsPerMinute !== undefined && { callsPerMinute }) },
  };
}
