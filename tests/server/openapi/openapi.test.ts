import SwaggerParser from '@apidevtools/swagger-parser';
import type { Express } from 'express';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { openApiDocument } from '../../../src/server/openapi/openapi.js';
import { PUBLISHED_TYPES } from '../../../src/render/fhir/search-parameters.js';
import { productionApp } from '../auth/tokens.js';
import { testApp } from '../test-service.js';

interface Document {
  readonly openapi: string;
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  readonly security?: readonly object[];
  readonly components: { readonly schemas: Readonly<Record<string, object>> };
}

interface Operation {
  readonly responses: Readonly<Record<string, { readonly content?: Readonly<Record<string, object>> }>>;
  readonly security?: readonly object[];
}

async function documentOf(app: Express, prefix = ''): Promise<Document> {
  const reply = await request(app).get(`${prefix}/openapi.json`);
  expect(reply.status).toBe(200);
  return JSON.parse(reply.text) as Document;
}

/** A layer of an Express router, as far as it is looked at here. */
interface Layer {
  readonly route?: {
    readonly path: string | readonly string[];
    readonly methods: Readonly<Record<string, boolean>>;
  };
  readonly handle: { readonly stack?: readonly Layer[] };
  readonly rawPath: string;
}

/** Every method and path the application answers, as OpenAPI writes them. */
function routesOf(app: Express): readonly string[] {
  const found = walk((app.router as unknown as { readonly stack: readonly Layer[] }).stack, '');
  return [...new Set(found)].sort();
}

function walk(layers: readonly Layer[], prefix: string): readonly string[] {
  return layers.flatMap((layer) => {
    if (layer.handle.stack && !layer.route) {
      return walk(layer.handle.stack, layer.rawPath === '/' ? prefix : prefix + layer.rawPath);
    }
    const { route } = layer;
    if (!route) return [];
    const methods = Object.keys(route.methods).filter((method) => method !== 'head');
    // What answers every method only says which ones there are.
    if (methods.includes('_all') || methods.length > 2) return [];
    return [route.path]
      .flat()
      .flatMap((path) => methods.map((method) => `${method} ${templated(prefix + path)}`));
  });
}

const TYPE = new RegExp(`^/fhir/(?:${PUBLISHED_TYPES.join('|')})(?=/|$)`);

function templated(path: string): string {
  return path.replace(TYPE, '/fhir/{type}').replaceAll(/:(\w+)/g, '{$1}');
}

function pathsIn({ paths }: Document): readonly string[] {
  return Object.entries(paths)
    .flatMap(([path, methods]) => Object.keys(methods).map((method) => `${method} ${path}`))
    .sort();
}

describe('the OpenAPI document', () => {
  it.each([
    ['development', testApp(), ''],
    ['production', productionApp(), '/kotyle'],
  ] as const)('names every route of the service in %s, and no other', async (_mode, app, prefix) => {
    const routes = routesOf(app);
    expect(routes.length).toBeGreaterThan(12);
    expect(pathsIn(await documentOf(app, prefix))).toEqual(routes);
  });

  it.each(['development', 'production'] as const)('is valid OpenAPI 3.1 in %s', async (mode) => {
    // Truth: swagger-parser, which holds it to the published schema of OpenAPI.
    const document = openApiDocument({ engine: '0.2.0', mode, publicUrl: 'https://hip.example' });
    const read = await SwaggerParser.validate(
      JSON.parse(JSON.stringify(document)) as Parameters<typeof SwaggerParser.validate>[0],
    );
    expect(read.info.version).toBe('0.2.0');
  });

  it('asks for a token in production, but not for what tells of nobody', async () => {
    const production = await documentOf(productionApp(), '/kotyle');
    expect(production.security).toEqual([{ clientToken: [] }]);
    const open = Object.entries(production.paths)
      .filter(([, methods]) => Object.values(methods).every(({ security }) => security?.length === 0))
      .map(([path]) => path);
    expect(open.sort()).toEqual([
      '/evidence/',
      '/evidence/style.css',
      '/evidence/{rule}',
      '/evidence/{version}/{rule}',
      '/health',
      '/openapi.json',
      '/ready',
    ]);
    // What it says is so: each of these answers without one, and each other path with 401.
    for (const path of Object.keys(production.paths)) {
      const [method = 'get'] = Object.keys(production.paths[path] ?? {});
      const asked = path.replace('{type}', 'ValueSet').replaceAll(/\{\w+\}/g, 'x');
      const reply =
        method === 'post'
          ? request(productionApp()).post(`/kotyle${asked}`)
          : request(productionApp()).get(`/kotyle${asked}`);
      expect((await reply).status === 401, path).toBe(!open.includes(path));
    }
  });

  it('tells every refusal as an OperationOutcome, but a missing token', async () => {
    const { paths } = await documentOf(testApp());
    for (const [path, methods] of Object.entries(paths))
      for (const { responses } of Object.values(methods))
        for (const [status, { content }] of Object.entries(responses))
          if (Number(status) >= 400)
            expect(Object.keys(content ?? {}), `${path} ${status}`).toEqual(
              status === '401' ? [] : ['application/fhir+json'],
            );
  });

  it('describes what is taken by the members that are checked', async () => {
    const { schemas } = (await documentOf(testApp())).components;
    const text = (name: string): string => JSON.stringify(schemas[name]);
    for (const hook of ['AppointmentBook', 'OrderSelect', 'OrderSign', 'PatientView'])
      expect(text(`${hook}Call`)).toContain('"hookInstance"');
    expect(text('OrderSignCall')).toContain('"draftOrders"');
    expect(text('PatientViewCall')).not.toContain('"draftOrders"');
    expect(text('Feedback')).toContain('"outcomeTimestamp"');
    for (const name of ['data', 'subject', 'fhirServer', 'fhirAuthorization', 'hip', 'stage', 'now'])
      expect(text('EvaluateParameters')).toContain(`"${name}"`);
  });
});
