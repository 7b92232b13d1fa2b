import express from 'express';
import type { Express } from 'express';
import type { Logger } from 'pino';
import { issue } from '../base/result.js';
import type { Pseudonyms } from '../store/pseudonym.js';
import type { ServiceStore } from '../store/store.js';
import { authenticate } from './auth/authenticate.js';
import type { Client } from './auth/clients-file.js';
import { belowPath } from './below-path.js';
import type { Config } from './config.js';
import { cors } from './cors.js';
import { discovery } from './discovery.js';
import { evidencePages } from './evidence.js';
import type { RecordReader } from './fallback/record-reader.js';
import { answerFeedback } from './feedback.js';
import { fhirEndpoint } from './fhir/endpoint.js';
import { answerCall } from './hook-call.js';
import { perInstallation } from './installation.js';
import type { Installation } from './installation.js';
import { jsonBody } from './json-body.js';
import { openApi } from './openapi/openapi.js';
import type { Admission } from './operations/admission.js';
import { arrival } from './operations/arrival.js';
import { health } from './operations/health.js';
import type { Lifecycle } from './operations/lifecycle.js';
import type { Metrics } from './operations/metrics.js';
import { metricsEndpoint } from './operations/metrics-endpoint.js';
import type { Readiness } from './operations/readiness.js';
import { allowOnly, answerProblem } from './problems.js';
import { locationOf } from './served-at.js';
import { apiHeaders } from './security/headers.js';
import { limitCalls } from './security/limit-calls.js';
import type { Shadow } from './shadow/shadow.js';
import { answerError } from './unexpected.js';

/** What the service runs on. The clock is passed in, so that everything below it can be repeated. */
export interface ServiceParts {
  /** The knowledge in force: asked for once a call. */
  readonly installation: () => Installation;
  readonly config: Config;
  readonly log: Logger;
  readonly now: () => Date;
  readonly engineVersion: string;
  readonly store: ServiceStore;
  readonly pseudonyms: Pseudonyms;
  readonly recordReader: RecordReader;
  /** Who may call in production. */
  readonly clients?: readonly Client[];
  readonly metrics: Metrics;
  /** Turns calls away while too many are worked on. */
  readonly admission: Admission;
  readonly readiness: Readiness;
  readonly lifecycle: Lifecycle;
  /** A rulebook that is tried on every call after its answer. */
  readonly shadow?: Shadow;
  /** The address listened on, once it is known: where no public URL is set, links lead there. */
  readonly listeningAt?: () => string | undefined;
}

const JSON_TYPES = ['application/json'] as const;

/** The HTTP application: CDS Hooks discovery, calls and feedback, the knowledge as FHIR, and health. */
export function createApp(parts: ServiceParts): Express {
  const { config } = parts;
  const app = express();
  app.disable('x-powered-by');
  app.disable('etag');
  app.set('query parser', 'simple');
  // The standard's paths and no others: an audience names one of them, letter by letter.
  app.enable('case sensitive routing');
  app.enable('strict routing');
  app.use(arrival(parts));
  app.use(...apiHeaders(config));
  app.use(belowPath(config.publicUrl));
  app.use(cors(config.corsOrigins));
  app.use(health(parts));
  // Where operators have a port of their own, and in production, counts are told there or not at all.
  if (config.mode === 'development' && config.operationsPort === undefined)
    app.use(metricsEndpoint(parts.metrics));
  app.use('/evidence', evidencePages(parts));
  app.use(openApi(parts));
  app.use(parts.admission.admit);
  const callerKnown = authenticate(parts);
  const limited = limitCalls(config);
  app.use('/cds-services', callerKnown('/cds-services'), limited);
  const document = perInstallation(({ advisor, site }) =>
    JSON.stringify(discovery(advisor.rulebook, { ...config, ...locationOf(parts) }, site)),
  );
  app.get('/cds-services', (_request, response) => {
    response.type('json').send(document(parts.installation()));
  });
  const body = jsonBody(JSON_TYPES, config.bodyLimitBytes);
  app.post('/cds-services/:id', ...body, parts.admission.call(answerCall(parts)));
  app.post('/cds-services/:id/feedback', ...body, parts.admission.feedback(answerFeedback(parts)));
  app.all('/cds-services', allowOnly('GET', 'HEAD'));
  app.all(['/cds-services/:id', '/cds-services/:id/feedback'], allowOnly('POST'));
  app.use('/fhir', callerKnown('/fhir'), limited, fhirEndpoint(parts));
  app.use((_request, response) => {
    answerProblem(response, [issue('unknown-path', '', 'expected a path of this service, found none')]);
  });
  app.use(answerError(parts.log));
  return app;
}
