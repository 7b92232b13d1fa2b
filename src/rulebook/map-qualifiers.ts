import type { MeasureDefinition } from '../facts/definitions.js';
import { STAGES } from '../facts/definitions.js';
import type { FixedQualifiers } from '../facts/site-map-index.js';
import { ucumFactor } from '../facts/ucum.js';
import type { MapTarget } from './site-schema.js';
import type { Rulebook } from './types.js';

/** Tells a fault below the target that is being read. */
export type Tell = (path: string, expected: string, found: string) => void;

/** The `product` entries of a target by name; a name that comes twice is told, not chosen between. */
export function productsOf(target: MapTarget, tell: Tell): ReadonlyMap<string, string> {
  const products = new Map<string, string>();
  for (const [index, { property, value }] of (target.product ?? []).entries()) {
    if (products.has(property)) tell(`product[${index}].property`, `${property} once`, 'twice');
    products.set(property, value);
  }
  return products;
}

/** What a local measure code fixes beside the measure; everything that does not fit the measure is told. */
export function fixedQualifiers(
  definition: MeasureDefinition,
  products: ReadonlyMap<string, string>,
  rulebook: Rulebook,
  tell: Tell,
): FixedQualifiers {
  const components: Record<string, string | boolean> = {};
  for (const [name, value] of products) {
    const allowed = allowedFor(name, definition, rulebook);
    if (!allowed)
      tell('product', `a property of ${definition.id}: ${propertiesOf(definition).join(', ')}`, name);
    else if (!allowed.accepts(value)) tell(`product.${name}`, allowed.expected, value);
    else if (definition.components.includes(name)) components[name] = typedValue(name, value, rulebook);
  }
  const stage = STAGES.find((each) => each === products.get('stage'));
  const side = (['left', 'right'] as const).find((each) => each === products.get('side'));
  const unit = products.get('unit');
  return {
    ...(stage && { stage }),
    ...(side && { side }),
    ...(unit !== undefined && { unit }),
    sign: products.get('sign') === '-1' ? -1 : 1,
    components,
  };
}

function propertiesOf(definition: MeasureDefinition): readonly string[] {
  const { components, scope, unit, valueType } = definition;
  const isNumber = valueType === 'quantity' || valueType === 'integer';
  return [
    'stage',
    ...(scope === 'hip' ? ['side'] : []),
    ...(valueType === 'quantity' && unit !== undefined ? ['unit'] : []),
    ...(isNumber ? ['sign'] : []),
    ...components,
  ];
}

interface Allowed {
  readonly expected: string;
  readonly accepts: (value: string) => boolean;
}

function allowedFor(name: string, definition: MeasureDefinition, rulebook: Rulebook): Allowed | undefined {
  if (!propertiesOf(definition).includes(name)) return undefined;
  const { unit = '1' } = definition;
  switch (name) {
    case 'stage':
      return oneOf(definition.stages);
    case 'side':
      return oneOf(['left', 'right']);
    case 'sign':
      return oneOf(['1', '-1']);
    case 'unit':
      return {
        expected: `a UCUM unit that converts to ${unit}`,
        accepts: (value) => ucumFactor(value, unit) !== undefined,
      };
    default: {
      const values = rulebook.knowledge.qualifiers.get(name) ?? [];
      return oneOf(values === 'boolean' ? ['true', 'false'] : values);
    }
  }
}

function oneOf(values: readonly string[]): Allowed {
  return { expected: `one of ${values.join(', ')}`, accepts: (value) => values.includes(value) };
}

function typedValue(name: string, value: string, rulebook: Rulebook): string | boolean {
  return rulebook.knowledge.qualifiers.get(name) === 'boolean' ? value === 'true' : value;
}
