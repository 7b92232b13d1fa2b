import express from 'express';
import type { Express } from 'express';
import { issue } from '../../base/result.js';
import type { ServiceParts } from '../app.js';
import { answerProblem } from '../problems.js';
import { answerError } from '../unexpected.js';
import { health } from './health.js';
import { metricsEndpoint } from './metrics-endpoint.js';

/** What only operators see, on a port of its own: health, readiness and the counts. */
export function operationsApp(
  parts: Pick<ServiceParts, 'installation' | 'engineVersion' | 'readiness' | 'config' | 'metrics' | 'log'>,
): Express {
  const app = express();
  app.disable('x-powered-by');
  app.disable('etag');
  app.use(health(parts));
  app.use(metricsEndpoint(parts.metrics));
  app.use((_request, response) => {
    answerProblem(response, [
      issue('unknown-path', '', 'expected /health, /ready or /metrics, found another'),
    ]);
  });
  app.use(answerError(parts.log));
  return app;
}
