import fc from 'fast-check';

/** Requests of no form at all: odd methods, paths and headers, and bodies damaged as text. */

export interface OddRequest {
  readonly method: string;
  readonly path: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string;
}

export interface TextDamage {
  readonly at: number;
  readonly kind: 'cut' | 'double' | 'insert' | 'swap';
  readonly text: string;
}

/** Damage to a text: cut, doubled, or with something put in. */
export const textDamage: fc.Arbitrary<TextDamage> = fc.record({
  at: fc.nat(),
  kind: fc.constantFrom('cut' as const, 'double' as const, 'insert' as const, 'swap' as const),
  text: fc.constantFrom(
    '"',
    '{',
    '[',
    '\\',
    '\u0000',
    '\ufeff',
    '\ud800',
    '.',
    '=',
    '-',
    '__proto__',
    '['.repeat(200),
  ),
});

/** The text with one damage done to it. */
export function damageText(text: string, { at, kind, text: put }: TextDamage): string {
  const place = at % (text.length + 1);
  switch (kind) {
    case 'cut':
      return text.slice(0, place);
    case 'double':
      return text.slice(0, place) + text;
    case 'insert':
      return text.slice(0, place) + put + text.slice(place);
    case 'swap':
      return `${text.slice(place)}${text.slice(0, place)}`;
  }
}

const JSON_TYPE = { 'content-type': 'application/json' } as const;

const PATHS: readonly string[] = [
  '/cds-services',
  '/cds-services/',
  '/cds-services/%00',
  '/cds-services/%ff%fe',
  '/cds-services/__proto__',
  '/cds-services/constructor/feedback',
  '/cds-services/hip-stability-order/../../health',
  '/cds-services/hip-stability-order%2ffeedback',
  '/fhir/PlanDefinition?_count=-1&_id=%27&url=%00',
  '/fhir/PlanDefinition/%e0%a4%a',
  '/fhir/metadata?_format=application/xml',
  '/fhir/$evaluate',
  '/evidence/__proto__/x',
  '/evidence/2026.11.1/../../../etc/passwd',
  '/openapi.json',
  '/health?x[y]=1&x[__proto__]=2',
  '/ready',
  '//evil.example/',
  `/${'a'.repeat(4000)}`,
];

const ODD_HEADERS: readonly Readonly<Record<string, string>>[] = [
  {},
  JSON_TYPE,
  { 'content-type': 'application/json; charset=utf-16' },
  { 'content-type': 'text/html' },
  { ...JSON_TYPE, 'content-encoding': 'gzip' },
  { ...JSON_TYPE, 'content-encoding': 'br' },
  { ...JSON_TYPE, origin: 'null', 'access-control-request-method': 'POST' },
  { ...JSON_TYPE, 'x-http-method-override': 'DELETE', 'x-forwarded-for': '127.0.0.1' },
  { accept: 'application/xml', prefer: 'handling=strict', 'if-none-match': '*' },
  { authorization: 'Bearer null' },
];

/** Requests of no form, some of which carry a right call in a wrong way. */
export function oddRequest(
  right: fc.Arbitrary<{ readonly path: string; readonly body: unknown }>,
): fc.Arbitrary<OddRequest> {
  return fc
    .record({
      method: fc.constantFrom('GET', 'POST', 'PUT', 'PATCH', 'DELETE', 'OPTIONS', 'HEAD'),
      path: fc.option(fc.constantFrom(...PATHS), { nil: undefined, freq: 2 }),
      headers: fc.constantFrom(...ODD_HEADERS),
      right,
      text: fc.array(textDamage, { maxLength: 3 }),
    })
    .map(({ method, path, headers, right: { path: own, body }, text }) => {
      const hasBody = method !== 'GET' && method !== 'HEAD' && method !== 'OPTIONS';
      const sent = hasBody ? text.reduce(damageText, JSON.stringify(body)) : '';
      return { method, path: path ?? own, headers, body: sent };
    });
}
