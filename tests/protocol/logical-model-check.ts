import { isObject, rules } from './narrative-rules.js';
import type { JsonObject } from './narrative-rules.js';
import { childElements, contextModels } from './published-models.js';
import type { ModelElement } from './published-models.js';

export interface CheckIssue {
  /** Invariant key, row of the conformance list, or `model:` and what the logical model says. */
  readonly rule: string;
  readonly severity: 'error' | 'warning';
  readonly path: string;
  readonly expected: string;
  readonly found: string;
}

export const checkResponse = (value: unknown): CheckIssue[] => check('CDSHooksResponse', value);
export const checkServices = (value: unknown): CheckIssue[] => check('CDSHooksServices', value);
export const checkRequest = (value: unknown): CheckIssue[] => check('CDSHooksRequest', value);
export const checkFeedback = (value: unknown): CheckIssue[] => check('CDSHooksFeedback', value);

function check(model: string, value: unknown): CheckIssue[] {
  if (!isObject(value)) return [issue('model:type', '$', 'an object', value)];
  const at = { model, path: '$' };
  return [...objectIssues(value, at), ...emptyMemberIssues(value, at)];
}

interface Place {
  readonly model: string;
  readonly path: string;
}

const cdsType = /^(CDSHooksElement|Base|CDSHookContext)$/;
/** C6 replaces this binding: the published code system lacks critical. */
const bindingReplaced = 'CDSHooksResponse.cards.indicator';

/** Walks one object against the children of the model path. */
function objectIssues(node: JsonObject, { model, path }: Place): CheckIssue[] {
  const children = childElements(model);
  const names = new Set(children.map((child) => child.jsonName));
  const issues = ruleIssues(node, path, [model]);
  for (const [name, value] of Object.entries(node)) {
    if (name === 'extension') {
      if (!isObject(value)) {
        issues.push(issue('T2', `${path}.extension`, 'an object of named members', value));
      }
    } else if (!names.has(name)) {
      issues.push(issue('model:unknown', `${path}.${name}`, `one of ${[...names].join(', ')}`, value));
    }
  }
  for (const child of children) {
    issues.push(...memberIssues(node[child.jsonName], child, `${path}.${child.jsonName}`, node));
  }
  return issues;
}

function memberIssues(value: unknown, element: ModelElement, path: string, parent: JsonObject): CheckIssue[] {
  if (value === undefined) {
    return element.min > 0 ? [issue('model:min', path, `at least ${element.min}`, value)] : [];
  }
  if (element.keyedBy !== undefined) return keyedIssues(value, element, path);
  if (!element.many) return valueIssues(value, element, path, parent);
  if (!Array.isArray(value)) return [issue('model:max', path, 'an array', value)];
  return value.flatMap((each, index) => valueIssues(each, element, `${path}[${index}]`, parent));
}

/** Prefetch in the models is a list of key and value; in JSON it is an object. */
function keyedIssues(value: unknown, element: ModelElement, path: string): CheckIssue[] {
  if (!isObject(value)) return [issue('model:type', path, 'an object of keys and values', value)];
  const key = childElements(element.path).find((child) => child.jsonName === element.keyedBy);
  const held = childElements(element.path).find((child) => child.jsonName !== element.keyedBy);
  if (key === undefined || held === undefined) throw new Error(`${element.path} has no key or no value`);
  return Object.entries(value).flatMap(([name, each]) => [
    ...valueIssues(name, key, `${path}.${name} (key)`, value),
    ...(each === null && held.nullable ? [] : valueIssues(each, held, `${path}.${name}`, value)),
  ]);
}

function valueIssues(value: unknown, element: ModelElement, path: string, parent: JsonObject): CheckIssue[] {
  if (cdsType.test(element.type)) {
    if (!isObject(value)) return [issue('model:type', path, 'an object', value)];
    const context = element.type === 'CDSHookContext' ? contextModels[String(parent['hook'])] : undefined;
    // A hook without a model is reported once, by R2.
    if (element.type === 'CDSHookContext' && context === undefined) return [];
    return objectIssues(value, { model: context ?? element.childrenOf, path });
  }
  const type = types[element.type];
  if (type === undefined) {
    throw new Error(`the checker does not know the type ${element.type} of ${element.path}`);
  }
  if (!type.accepts(value, element.impliedPrefix)) return [issue('model:type', path, type.name, value)];
  const isBound = element.codes !== undefined && element.path !== bindingReplaced;
  if (isBound && !element.codes.includes(String(value))) {
    return [issue('model:binding', path, element.codes.join(' | '), value)];
  }
  const ruleKeys = [element.path, element.type];
  return isObject(value) ? ruleIssues(value, path, ruleKeys) : ruleIssues({ value }, path, ruleKeys);
}

function ruleIssues(node: JsonObject, path: string, ruleKeys: readonly string[]): CheckIssue[] {
  return rules
    .filter((rule) => ruleKeys.includes(rule.at) && rule.isBroken(node))
    .map(({ key, severity, member, expected }) =>
      member === undefined
        ? issue(key, path, expected, node, severity)
        : issue(key, `${path}.${member}`, expected, node[member], severity),
    );
}

/** G4: no member holds null, '', [] or {}, but for the listed lists and for null in a request's prefetch. */
function emptyMemberIssues(value: unknown, { model, path }: Place): CheckIssue[] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([name, member]: [string, unknown]) => {
    const at = Array.isArray(value) ? `${path}[${name}]` : `${path}.${name}`;
    const isAllowed =
      (Array.isArray(member) && mayBeEmpty[model] === at) ||
      (member === null && path === '$.prefetch') ||
      // FHIR pads lists of primitives with null; elsewhere a null item fails its type.
      (member === null && Array.isArray(value));
    if (!isAllowed && isEmpty(member)) return [issue('G4', at, 'a value, or no member', member)];
    return emptyMemberIssues(member, { model, path: at });
  });
}

const mayBeEmpty: Readonly<Record<string, string>> = {
  CDSHooksResponse: '$.cards',
  CDSHooksServices: '$.services',
};

const isEmpty = (value: unknown) =>
  value === null || value === '' || (typeof value === 'object' && Object.keys(value).length === 0);

interface TypeCheck {
  readonly name: string;
  readonly accepts: (value: unknown, impliedPrefix: string) => boolean;
}

const text = (name: string, form: RegExp): TypeCheck => ({
  name,
  accepts: (value, prefix) => typeof value === 'string' && form.test(prefix + value),
});
const resource = (name: string, form: RegExp): TypeCheck => ({
  name,
  accepts: (value) =>
    isObject(value) && typeof value['resourceType'] === 'string' && form.test(value['resourceType']),
});

/** Forms of the FHIR R4 data types. */
const types: Readonly<Record<string, TypeCheck>> = {
  string: text('a string', /^/),
  markdown: text('a string', /^/),
  code: text('a code', /^[^\s]+(\s[^\s]+)*$/),
  id: text('a FHIR id, not a reference', /^[A-Za-z0-9\-.]{1,64}$/),
  url: text('a URL', /^\S+$/),
  uri: text('a URI', /^\S+$/),
  uuid: text('a lower-case UUID', /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/),
  instant: text('a time with seconds and zone', /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)$/),
  boolean: { name: 'true or false', accepts: (value) => typeof value === 'boolean' },
  integer: { name: 'an integer', accepts: (value) => Number.isInteger(value) },
  Coding: { name: 'a Coding object', accepts: isObject },
  Resource: resource('a resource with resourceType', /^[A-Z][A-Za-z]+$/),
  Bundle: resource('a Bundle', /^Bundle$/),
};

function issue(
  rule: string,
  path: string,
  expected: string,
  value: unknown,
  severity: CheckIssue['severity'] = 'error',
): CheckIssue {
  const found = value === undefined ? 'nothing' : JSON.stringify(value).slice(0, 120);
  return { rule, severity, path, expected, found };
}
