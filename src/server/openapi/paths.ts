import type { RouteConfig } from '@asteasolutions/zod-to-openapi';
import { z } from 'zod';
import { PUBLISHED_TYPES, SEARCH_PARAMETERS } from '../../render/fhir/search-parameters.js';
import { fhir, json, problems, text } from './answers.js';
import {
  anyResource,
  cards,
  discovery,
  evaluateBody,
  feedback,
  hookCall,
  resource,
  status,
} from './schemas.js';

/** Paths that need no token in production. */
const OPEN: RouteConfig['security'] = [];

const type = z.enum(PUBLISHED_TYPES);
const name = z.string();
const search = z.object({
  ...Object.fromEntries(
    Object.keys(SEARCH_PARAMETERS).map((parameter) => [parameter, z.string().optional()]),
  ),
  _count: z.int().min(0).optional(),
  _offset: z.int().min(0).optional(),
  _format: z.string().optional(),
});

const HOOKS: readonly RouteConfig[] = [
  {
    method: 'get',
    path: '/cds-services',
    summary: 'The services, their hooks and prefetch templates',
    responses: { 200: json('The discovery document.', discovery), ...problems(401, 403, 405, 429, 500) },
  },
  {
    method: 'post',
    path: '/cds-services/{id}',
    summary: 'A hook is called: cards for whoever works in the record system',
    request: {
      params: z.object({ id: name }),
      body: { required: true, content: { 'application/json': { schema: hookCall } } },
    },
    responses: {
      200: json('Cards; none is no clearance.', cards),
      ...problems(400, 401, 403, 404, 405, 408, 412, 413, 415, 429, 500, 503),
    },
  },
  {
    method: 'post',
    path: '/cds-services/{id}/feedback',
    summary: 'What became of cards',
    request: {
      params: z.object({ id: name }),
      body: { required: true, content: { 'application/json': { schema: feedback } } },
    },
    responses: {
      200: { description: 'Everything is durably kept.' },
      ...problems(400, 401, 403, 404, 405, 408, 413, 415, 429, 500, 503),
    },
  },
];

const READ_FAULTS = [400, 401, 403, 404, 405, 406, 429, 500] as const;

const FHIR: readonly RouteConfig[] = [
  {
    method: 'get',
    path: '/fhir/metadata',
    summary: 'What the FHIR endpoint offers',
    responses: {
      200: fhir('The CapabilityStatement.', resource('CapabilityStatement')),
      ...problems(...READ_FAULTS),
    },
  },
  {
    method: 'get',
    path: '/fhir/{type}',
    summary: 'Search in the knowledge',
    request: { params: z.object({ type }), query: search },
    responses: { 200: fhir('A searchset.', resource('Bundle')), ...problems(...READ_FAULTS) },
  },
  {
    method: 'post',
    path: '/fhir/{type}/_search',
    summary: 'The same search, its parameters in the body',
    request: {
      params: z.object({ type }),
      body: { content: { 'application/x-www-form-urlencoded': { schema: search } } },
    },
    responses: { 200: fhir('A searchset.', resource('Bundle')), ...problems(...READ_FAULTS, 413, 503) },
  },
  {
    method: 'get',
    path: '/fhir/{type}/{id}',
    summary: 'One resource of the knowledge',
    request: { params: z.object({ type, id: name }) },
    responses: {
      200: fhir('The resource; ETag is its version.', anyResource),
      304: { description: 'If-None-Match names this version.' },
      ...problems(...READ_FAULTS, 410),
    },
  },
  {
    method: 'post',
    path: '/fhir/$evaluate',
    summary: 'Evaluate the hips of one patient',
    description: 'Described by OperationDefinition/evaluate of the FHIR endpoint.',
    request: {
      body: {
        required: true,
        content: {
          'application/fhir+json': { schema: evaluateBody },
          'application/json': { schema: evaluateBody },
        },
      },
    },
    responses: {
      200: fhir('A collection of evaluations.', resource('Bundle')),
      ...problems(400, 401, 403, 405, 406, 408, 412, 413, 415, 429, 500, 503),
    },
  },
];

const HTML = 'text/html; charset=utf-8';

const PAGES: readonly RouteConfig[] = [
  {
    method: 'get',
    path: '/evidence/',
    summary: 'What the service does, when, and on what evidence: for people',
    security: OPEN,
    responses: {
      200: text('A page with a link to every rule.', HTML),
      308: { description: 'To the same path with its last slash.' },
      ...problems(405, 500),
    },
  },
  {
    method: 'get',
    path: '/evidence/{rule}',
    summary: 'The evidence page of a rule in force',
    security: OPEN,
    request: { params: z.object({ rule: name }) },
    responses: { 307: { description: 'To the page in the version in force.' }, ...problems(404, 405, 500) },
  },
  {
    method: 'get',
    path: '/evidence/{version}/{rule}',
    summary: 'The evidence page of a rule in one version of the rulebook',
    security: OPEN,
    request: { params: z.object({ version: name, rule: name }) },
    responses: { 200: text('A page to read and to print.', HTML), ...problems(404, 405, 410, 500) },
  },
  {
    method: 'get',
    path: '/evidence/style.css',
    summary: 'The look of the pages',
    security: OPEN,
    responses: { 200: text('A stylesheet.', 'text/css; charset=utf-8'), ...problems(405, 500) },
  },
];

const OPERATIONS: readonly RouteConfig[] = [
  {
    method: 'get',
    path: '/openapi.json',
    summary: 'This document',
    security: OPEN,
    responses: { 200: json('OpenAPI 3.1.', z.looseObject({ openapi: z.string() })), ...problems(405, 500) },
  },
  {
    method: 'get',
    path: '/health',
    summary: 'Whether the process lives',
    security: OPEN,
    responses: { 200: json('It does.', status), ...problems(405, 500) },
  },
  {
    method: 'get',
    path: '/ready',
    summary: 'Whether it can answer calls: a built-in patient is evaluated and the store asked',
    security: OPEN,
    responses: { 200: json('It can.', status), ...problems(405, 500, 503) },
  },
];

const METRICS: RouteConfig = {
  method: 'get',
  path: '/metrics',
  summary: 'Counts for a Prometheus server; in production on the operators’ own port only',
  security: OPEN,
  responses: { 200: text('Counts in the text form of Prometheus.', 'text/plain'), ...problems(405, 500) },
};

/** Every path of the service in a mode. */
export function pathsOf(mode: 'development' | 'production'): readonly RouteConfig[] {
  return [...HOOKS, ...FHIR, ...PAGES, ...OPERATIONS, ...(mode === 'development' ? [METRICS] : [])];
}
