import express from 'express';
import type { Express, NextFunction, Request, Response } from 'express';
import type { Logger } from 'pino';
import type { Advisor } from '../advice/index.js';
import { issue } from '../base/result.js';
import type { Pseudonyms } from '../store/pseudonym.js';
import { hipPlanQuestionnaire } from '../rulebook/hip-plan-questionnaire.js';
import type { Site } from '../rulebook/site.js';
import type { Store } from '../store/store.js';
import type { Config } from './config.js';
import { cors } from './cors.js';
import { discovery } from './discovery.js';
import type { RecordReader } from './fallback/record-reader.js';
import { answerFeedback } from './feedback.js';
import { answerCall } from './hook-call.js';
import { isTooDeep } from './json-depth.js';
import { answerProblem } from './problems.js';

/** What the service runs on. The clock is passed in, so that everything below it can be repeated. */
export interface ServiceParts {
  readonly advisor: Advisor;
  readonly config: Config;
  readonly log: Logger;
  readonly now: () => Date;
  readonly engineVersion: string;
  readonly store: Store;
  readonly pseudonyms: Pseudonyms;
  readonly recordReader: RecordReader;
  /** The installation's own codes, choices and readers. */
  readonly site?: Site;
}

/** The HTTP application: CDS Hooks discovery, calls and feedback, and health. */
export function createApp(parts: ServiceParts): Express {
  const app = express();
  app.disable('x-powered-by');
  app.disable('etag');
  app.set('query parser', 'simple');
  app.use(cors(parts.config.corsOrigins));
  const document = JSON.stringify(discovery(parts.advisor.rulebook, parts.config.distinctIds, parts.site));
  app.get('/health', (_request, response) => {
    const { about, hash } = parts.advisor.rulebook;
    response.json({
      status: 'ok',
      engine: parts.engineVersion,
      rulebook: about.version,
      rulebookHash: hash,
      rulebookStatus: about.status,
    });
  });
  app.get('/cds-services', (_request, response) => {
    response.type('json').send(document);
  });
  const questionnaire = JSON.stringify(hipPlanQuestionnaire(parts.advisor.rulebook));
  app.get('/fhir/Questionnaire/hip-plan', (_request, response) => {
    response.type('application/fhir+json').send(questionnaire);
  });
  const body = express.json({ limit: parts.config.bodyLimitBytes, strict: false, verify: refuseDepth });
  app.post('/cds-services/:id', requireJson, body, answerCall(parts));
  app.post('/cds-services/:id/feedback', requireJson, body, answerFeedback(parts));
  app.all(['/health', '/cds-services', '/fhir/Questionnaire/hip-plan'], allowOnly('GET'));
  app.all(['/cds-services/:id', '/cds-services/:id/feedback'], allowOnly('POST'));
  app.use((_request, response) => {
    answerProblem(response, [issue('unknown-path', '', 'expected a path of this service, found none')]);
  });
  app.use(answerError(parts.log));
  return app;
}

function requireJson(request: Request, response: Response, next: NextFunction): void {
  // JSON between systems is UTF-8 (RFC 8259, section 8.1); another encoding would also slip past the depth check.
  if (isJsonInUtf8(request.headers['content-type'] ?? '')) {
    next();
    return;
  }
  answerProblem(response, [issue('wrong-media-type', '', 'expected Content-Type application/json in UTF-8')]);
}

function isJsonInUtf8(contentType: string): boolean {
  const [type = '', ...parameters] = contentType.toLowerCase().split(';');
  const charset = parameters.map((each) => each.trim()).find((each) => each.startsWith('charset='));
  return (
    type.trim() === 'application/json' && (charset === undefined || /^charset="?utf-?8"?$/.test(charset))
  );
}

class TooDeep extends Error {}

function refuseDepth(_request: unknown, _response: unknown, bytes: Buffer): void {
  if (isTooDeep(bytes)) throw new TooDeep('nested too deep');
}

function allowOnly(method: string) {
  return (_request: Request, response: Response): void => {
    response.set('Allow', method);
    answerProblem(response, [issue('wrong-method', '', `expected ${method}`)]);
  };
}

/** Express knows an error handler by its four parameters. */
function answerError(log: Logger) {
  return (error: unknown, _request: Request, response: Response, next: NextFunction): void => {
    if (response.headersSent) {
      next(error);
      return;
    }
    const { type, status } = describeError(error);
    if (type === 'entity.too.large') {
      answerProblem(response, [issue('too-large', '', 'expected a smaller body')]);
    } else if (type === 'entity.parse.failed' || type === 'entity.verify.failed') {
      answerProblem(response, [
        issue('not-json', '', 'expected a JSON text nested no deeper than 100, found something else'),
      ]);
    } else if (status === 415) {
      answerProblem(response, [
        issue('wrong-media-type', '', 'expected JSON in UTF-8, not compressed in an unknown way'),
      ]);
    } else if (status !== undefined && status >= 400 && status < 500) {
      answerProblem(response, [issue('wrong-value', '', 'expected a readable request')]);
    } else {
      log.error({ err: { stack: error instanceof Error ? error.stack : undefined } }, 'unexpected error');
      answerProblem(response, [issue('internal', '', 'the service failed; nothing was evaluated')]);
    }
  };
}

function describeError(error: unknown): { readonly type?: string; readonly status?: number } {
  if (typeof error !== 'object' || error === null) return {};
  const type = 'type' in error && typeof error.type === 'string' ? error.type : undefined;
  const status = 'status' in error && typeof error.status === 'number' ? error.status : undefined;
  return { ...(type !== undefined && { type }), ...(status !== undefined && { status }) };
}
