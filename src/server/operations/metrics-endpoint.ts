import { Router } from 'express';
import { allowOnly } from '../problems.js';
import type { Metrics } from './metrics.js';

/** The counts, for a Prometheus server on the operator's own network. */
export function metricsEndpoint(metrics: Metrics): Router {
  const router = Router();
  router.get('/metrics', async (_request, response) => {
    // Set as it stands: the media type names its version, and Express would put a charset elsewhere.
    response.setHeader('Content-Type', metrics.contentType);
    response.end(await metrics.text());
  });
  router.all('/metrics', allowOnly('GET'));
  return router;
}
