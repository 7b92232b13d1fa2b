import fc from 'fast-check';

/**
 * Structure-aware damage to JSON: a mutation names a place by number and what happens there. Numbers are taken modulo
 * what there is, so every drawn mutation does something and shrinks well.
 */
export type Mutation =
  | { readonly kind: 'delete' | 'duplicate' | 'truncate' | 'null' | 'wrap' | 'unwrap'; readonly at: number }
  | { readonly kind: 'retag'; readonly at: number; readonly name: string }
  | { readonly kind: 'replace'; readonly at: number; readonly value: unknown }
  | { readonly kind: 'swap'; readonly at: number; readonly with: number }
  | { readonly kind: 'vary' | 'reword'; readonly at: number; readonly pick: number };

type Container = Record<string, unknown> | unknown[];

interface Place {
  readonly parent: Container;
  readonly key: string | number;
}

/** Stands in every hostile text, so that what of it reaches a card can be seen. */
export const TRACE = 'Qzx';

/** Texts a client might bring to life: HTML, Markdown, addresses, control and joined characters. */
const HOSTILE: readonly string[] = [
  `<script>${TRACE}</script>`,
  `<img src=x onerror=${TRACE}>`,
  `**${TRACE}** _${TRACE}_ ~~${TRACE}~~`,
  `[${TRACE}](https://evil.example)`,
  `![${TRACE}](x)`,
  `https://evil.example/${TRACE}`,
  `www.evil.example/${TRACE}`,
  `${TRACE}\n\n# ${TRACE}\n- ${TRACE}`,
  `| ${TRACE} | ${TRACE} |`,
  `\`${TRACE}\``,
  `&lt;${TRACE}&gt;`,
  `${TRACE}\u0000\u202e\u{1d400}\ud800`,
  `{${TRACE}} {cup-inclination} || {texts:x}`,
  `${TRACE}${'x'.repeat(300)}`,
  '__proto__',
  'constructor',
  '',
  ' ',
];

const ODD: readonly unknown[] = [
  null,
  true,
  0,
  -1,
  1e308,
  -1e308,
  5e-324,
  0.1 + 0.2,
  400,
  [],
  {},
  [null],
  [[]],
  { coding: [] },
  { coding: [null] },
  { reference: null },
  { value: null },
  ['a', 1, null, {}],
  ...HOSTILE,
];

/** Members of FHIR resources and CDS Hooks bundles that one may be mistaken for another. */
const NAMES: readonly string[] = [
  'value',
  'valueQuantity',
  'valueRange',
  'valueString',
  'valueInteger',
  'valueBoolean',
  'valueCodeableConcept',
  '_valueQuantity',
  'code',
  'coding',
  'system',
  'display',
  'unit',
  'status',
  'subject',
  'patient',
  'bodySite',
  'category',
  'component',
  'effectiveDateTime',
  'effectivePeriod',
  'issued',
  'basedOn',
  'encounter',
  'reference',
  'resource',
  'resourceType',
  'entry',
  'link',
  'id',
  'contained',
  'modifierExtension',
  'doNotPerform',
  'intent',
  'orderDetail',
  'low',
  'high',
  'comparator',
  'fullUrl',
  'verificationStatus',
  'clinicalStatus',
  'parameter',
  'property',
  'valueCode',
  'valueCoding',
  'type',
  'item',
  'answer',
  'linkId',
  'questionnaire',
  'authored',
  'parent',
  'device',
  'focalDevice',
  'manipulated',
  'action',
  'class',
  'requisition',
  'groupIdentifier',
  'codeCodeableConcept',
  '__proto__',
  'constructor',
];

/** What may stand in place of what, so that most damaged records still mean something. */
const FAMILIES: readonly (readonly unknown[])[] = [
  [
    'deg',
    'rad',
    'mm',
    'cm',
    'm',
    '%',
    'kg',
    'gon',
    "'",
    '[degF]',
    '10*300.mm',
    '/mm',
    'deg{<b>}',
    'mm{*x*}',
    'nonsense',
    '1',
  ],
  [
    'draft',
    'active',
    'on-hold',
    'revoked',
    'completed',
    'entered-in-error',
    'unknown',
    'preliminary',
    'final',
    'amended',
    'registered',
    'cancelled',
    'proposed',
    'booked',
    'noshow',
    'in-progress',
    'inactive',
  ],
  [
    '287679003',
    '287579007',
    '24136001',
    '29836001',
    '7771000',
    '24028007',
    '51440002',
    '770606008',
    '52734007',
  ],
  ['planned', 'native', 'intraoperative', 'postoperative', 'hip-stability'],
  [
    'cup-inclination',
    'cup-anteversion',
    'stem-anteversion',
    'head-diameter',
    'neck-diameter',
    'liner-type',
    'mobile-liner-diameter',
    'articulation',
    'app-tilt-standing',
    'dislocation-count',
    'angle-definition',
    'method',
    'version-sign-confirmed',
    'radiographic',
    'operative',
    'anatomic',
    'ct',
    'estimate',
    'hip-side',
    'left',
    'right',
    'hip',
    'hip.side',
    'hip.angle-definition',
  ],
  ['67270000', '304121006', '112305', '112727005', '179344006', 'implanted', 'explanted', 'EMER', 'AMB'],
  ['THA', 'THA-L', 'THA-R', 'THA-B', 'THA-REV', 'HEMI', 'HIP-OP', 'HIP-BOOK', 'ORTHO-OP'],
  [
    'CUP-INC',
    'CUP-INC-OP',
    'CUP-INC-L',
    'CUP-VER',
    'CUP-RETRO',
    'HEAD',
    'NECK',
    'APPROACH',
    'DEF',
    'PA',
    'RAD',
    'OPR',
  ],
  ['L', 'R', 'B', 'HIP-L', 'HIP-R'],
  [
    '2026-11-02',
    '2026-11-24',
    '2026',
    '1899-12-31',
    '9999-12-31',
    '2026-02-30',
    '2026-11-02T25:00:00Z',
    '2026-11-02T10:00:00+14:00',
    '0000-01-01',
    'yesterday',
  ],
  [
    'http://snomed.info/sct',
    'http://hl7.org/fhir/sid/icd-10-cm',
    'https://kotyle.example/fhir/CodeSystem/hip-measure',
    'https://kotyle.example/fhir/CodeSystem/measure-stage',
    'https://kotyle.example/fhir/CodeSystem/measure-group',
    'http://unitsofmeasure.org',
    'http://example.org/local',
    'https://codes.example/orders',
    'https://codes.example/measures',
    'https://codes.example/sites',
    '',
  ],
  ['order', 'plan', 'option', 'proposal', 'searchset', 'collection', 'next', '<', '<=', '>', '>=', 'ad'],
  [
    'Observation',
    'Condition',
    'ServiceRequest',
    'Appointment',
    'Procedure',
    'DeviceRequest',
    'Device',
    'DeviceUseStatement',
    'QuestionnaireResponse',
    'Encounter',
    'Patient',
    'Bundle',
    'OperationOutcome',
    'Nothing',
  ],
  [0, -0, 1, 15, 22, 28, 36, 40, 45, 60, 89.99999, 90, 90.00001, 180, 360, 400, -36, 1e-9, 1e21, 1e308],
];

/** Other ways in which FHIR R4 (Quantity, Range) lets one value be said: without an end, the ends turned, in another unit. */
const WORDINGS: readonly ((quantity: object) => readonly [key: string, value: unknown])[] = [
  ...['<', '<=', '>=', '>', 'ad'].map(
    (comparator) => (quantity: object) => ['valueQuantity', { ...quantity, comparator }] as const,
  ),
  ...['rad', 'm', '%', "'"].map(
    (code) => (quantity: object) => ['valueQuantity', { ...quantity, unit: code, code }] as const,
  ),
  (quantity) => ['valueRange', { low: quantity }],
  (quantity) => ['valueRange', { high: quantity }],
  (quantity) => ['valueRange', { low: quantity, high: quantity }],
  (quantity) => ['valueRange', { low: quantity, high: { ...quantity, value: -1 } }],
  (quantity) => ['valueRange', { low: { ...quantity, value: 1e300 }, high: { ...quantity, value: 1.7e308 } }],
  () => ['valueRange', {}],
];

export const mutation: fc.Arbitrary<Mutation> = fc.oneof(
  {
    weight: 2,
    arbitrary: fc.record({
      kind: fc.constantFrom(
        'delete' as const,
        'duplicate' as const,
        'truncate' as const,
        'null' as const,
        'wrap' as const,
        'unwrap' as const,
      ),
      at: fc.nat(),
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record({
      kind: fc.constant('retag' as const),
      at: fc.nat(),
      name: fc.constantFrom(...NAMES),
    }),
  },
  {
    weight: 2,
    arbitrary: fc.record({
      kind: fc.constant('replace' as const),
      at: fc.nat(),
      value: fc.constantFrom(...ODD),
    }),
  },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('swap' as const), at: fc.nat(), with: fc.nat() }) },
  { weight: 4, arbitrary: fc.record({ kind: fc.constant('vary' as const), at: fc.nat(), pick: fc.nat() }) },
  { weight: 2, arbitrary: fc.record({ kind: fc.constant('reword' as const), at: fc.nat(), pick: fc.nat() }) },
);

/** A damaged copy; the original stays whole. */
export function mutate<Value>(original: Value, mutations: readonly Mutation[]): Value {
  const root = structuredClone(original);
  for (const one of mutations) apply(root as Container, one);
  return root;
}

function apply(root: Container, one: Mutation): void {
  const places = placesFor(one, root);
  const place = places[one.at % Math.max(places.length, 1)];
  if (!place) return;
  const value = read(place);
  switch (one.kind) {
    case 'delete':
      remove(place);
      return;
    case 'duplicate':
      if (Array.isArray(place.parent)) place.parent.push(structuredClone(value));
      else write({ parent: place.parent, key: `${place.key}Copy` }, structuredClone(value));
      return;
    case 'truncate':
      if (Array.isArray(value)) value.length = Math.floor(value.length / 2);
      else if (typeof value === 'string') write(place, value.slice(0, value.length / 2));
      return;
    case 'null':
      if (Array.isArray(value)) value.splice(one.at % (value.length + 1), 0, null);
      else write(place, null);
      return;
    case 'wrap':
      write(place, [value]);
      return;
    case 'unwrap':
      if (Array.isArray(value)) write(place, value[0]);
      return;
    case 'retag':
      remove(place);
      write({ parent: place.parent, key: Array.isArray(place.parent) ? place.key : one.name }, value);
      return;
    case 'replace':
      write(place, structuredClone(one.value));
      return;
    case 'swap': {
      const other = places[one.with % places.length];
      if (!other) return;
      const theirs = structuredClone(read(other));
      write(other, structuredClone(value));
      write(place, theirs);
      return;
    }
    case 'reword': {
      const wording = WORDINGS[one.pick % WORDINGS.length];
      if (!wording || typeof value !== 'object' || value === null) return;
      remove(place);
      const [key, said] = wording(value);
      write({ parent: place.parent, key }, structuredClone(said));
      return;
    }
    case 'vary': {
      const family = FAMILIES.find((each) => sameFamily(each, value)) ?? [];
      write(place, family[one.pick % Math.max(family.length, 1)]);
    }
  }
}

function sameFamily(family: readonly unknown[], value: unknown): boolean {
  return typeof value === 'number' ? family.includes(0) : family.includes(value);
}

function placesFor({ kind }: Mutation, root: Container): readonly Place[] {
  if (kind === 'vary') return variable(root);
  return kind === 'reword' ? placesIn(root).filter(({ key }) => key === 'valueQuantity') : placesIn(root);
}

function variable(root: Container): readonly Place[] {
  return placesIn(root).filter((place) => FAMILIES.some((family) => sameFamily(family, read(place))));
}

/** Every member and item below the root, parents before children. */
function placesIn(root: Container): readonly Place[] {
  const places: Place[] = [];
  const open: Container[] = [root];
  for (let next = open.pop(); next; next = open.pop()) {
    const parent = next;
    const keys = Array.isArray(parent) ? parent.map((_item, index) => index) : Object.keys(parent);
    for (const key of keys) {
      const place = { parent, key };
      places.push(place);
      const value = read(place);
      if (typeof value === 'object' && value !== null) open.push(value as Container);
    }
  }
  return places;
}

function read({ parent, key }: Place): unknown {
  return (parent as Record<string | number, unknown>)[key];
}

/** Defines rather than assigns, so that `__proto__` becomes a member, as it does in parsed JSON. */
function write({ parent, key }: Place, value: unknown): void {
  Object.defineProperty(parent, key, { value, writable: true, enumerable: true, configurable: true });
}

function remove({ parent, key }: Place): void {
  if (Array.isArray(parent)) parent.splice(Number(key), 1);
  else Reflect.deleteProperty(parent, key);
}
