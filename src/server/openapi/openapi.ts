import { OpenAPIRegistry, OpenApiGeneratorV31 } from '@asteasolutions/zod-to-openapi';
import { Router } from 'express';
import { lazy } from '../../base/lazy.js';
import type { ServiceParts } from '../app.js';
import { allowOnly } from '../problems.js';
import { locationOf } from '../served-at.js';
import { pathsOf } from './paths.js';

export interface DescribedService {
  readonly engine: string;
  readonly mode: 'development' | 'production';
  readonly publicUrl?: string;
}

/** The whole HTTP interface as OpenAPI 3.1: what is taken is described by the schemas it is checked with. */
export function openApiDocument({
  engine,
  mode,
  publicUrl,
}: DescribedService): ReturnType<OpenApiGeneratorV31['generateDocument']> {
  const registry = new OpenAPIRegistry();
  const token = registry.registerComponent('securitySchemes', 'clientToken', {
    type: 'http',
    scheme: 'bearer',
    bearerFormat: 'JWT',
    description: 'A token of the client, signed ES384 or RS384, for the URL that is called (CDS Hooks).',
  });
  for (const path of pathsOf(mode)) registry.registerPath(path);
  return new OpenApiGeneratorV31(registry.definitions).generateDocument({
    openapi: '3.1.0',
    info: {
      title: 'Kotyle',
      version: engine,
      description:
        'Rule-based decision support for total hip replacement: CDS Hooks, its knowledge as FHIR R4, one FHIR operation. Advisory for licensed clinicians; not for emergencies.',
      license: { name: 'Apache-2.0', url: 'https://www.apache.org/licenses/LICENSE-2.0' },
    },
    ...(publicUrl !== undefined && { servers: [{ url: publicUrl }] }),
    ...(mode === 'production' && { security: [{ [token.name]: [] }] }),
  });
}

/** `/openapi.json`, written when somebody first asks. */
export function openApi(parts: ServiceParts): Router {
  const router = Router({ caseSensitive: true, strict: true });
  const document = lazy(() =>
    JSON.stringify(
      openApiDocument({ engine: parts.engineVersion, mode: parts.config.mode, ...locationOf(parts) }),
    ),
  );
  router.get('/openapi.json', (_request, response) => {
    response.type('json').send(document());
  });
  router.all('/openapi.json', allowOnly('GET', 'HEAD'));
  return router;
}
