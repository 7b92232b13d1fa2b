import fc from 'fast-check';
import { SERVICES } from '../../src/advice/index.js';
import type { AdviceInput } from '../../src/advice/index.js';
import { readDataSet } from '../../src/fhir/bundle.js';
import { asObject } from '../../src/fhir/json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { everyCarrier } from '../advice/every-carrier.js';
import { inputFor, testPatients } from '../advice/patients.js';
import { MEASURES, northCampus, ORDERS, SITES } from '../facts/sites.js';
import { mutate, mutation } from './mutation.js';
import type { Mutation } from './mutation.js';

/** Calls about the test patients, damaged in many ways; the fuzz tests of all lengths draw from them. */

/** The same record in the codes of an installation, which only its maps can read. */
function locallyCoded(bundle: JsonObject): JsonObject {
  const coding = (system: string, code: string): string => JSON.stringify({ system, code });
  const ours = 'https://kotyle.example/fhir/CodeSystem/hip-measure';
  const local: readonly (readonly [string, string])[] = [
    [coding('http://snomed.info/sct', '112727005'), coding(ORDERS, 'THA-REV')],
    [coding('http://snomed.info/sct', '52734007'), coding(ORDERS, 'THA')],
    [coding('http://snomed.info/sct', '287679003'), coding(SITES, 'HIP-L')],
    [coding('http://snomed.info/sct', '287579007'), coding(SITES, 'HIP-R')],
    [coding(ours, 'cup-inclination'), coding(MEASURES, 'CUP-INC')],
    [coding(ours, 'cup-anteversion'), coding(MEASURES, 'CUP-VER')],
    [coding(ours, 'head-diameter'), coding(MEASURES, 'HEAD')],
    [coding(ours, 'neck-diameter'), coding(MEASURES, 'NECK')],
  ];
  const text = local.reduce((before, [from, to]) => before.replaceAll(from, to), JSON.stringify(bundle));
  return JSON.parse(text) as JsonObject;
}

const records: readonly (readonly [string, JsonObject])[] = [
  ...testPatients().map(({ name, bundle }) => [name, bundle] as const),
  // As often as several of the others: every carrier has its own readers.
  ...[1, 2, 3, 4].map((copy) => [`every carrier ${copy}`, everyCarrier()] as const),
  ...[1, 2, 3, 4].map(
    (copy) => [`every carrier in local codes ${copy}`, locallyCoded(everyCarrier())] as const,
  ),
];

export const inputs: ReadonlyMap<string, AdviceInput> = new Map(
  records.flatMap(([name, bundle]) =>
    SERVICES.flatMap(({ hook }) => {
      const input = inputFor(bundle, hook);
      return input ? [[`${name} at ${hook}`, input] as const] : [];
    }),
  ),
);

export const damaged = fc.record({
  patient: fc.constantFrom(...inputs.keys()),
  mutations: fc.array(mutation, { minLength: 1, maxLength: 8 }),
  atSite: fc.boolean(),
});

export interface Damage {
  readonly patient: string;
  readonly mutations: readonly Mutation[];
  /** Whether the call comes to an installation with codes, usual choices and sources of its own. */
  readonly atSite: boolean;
}

/** The resources damaged; who is asked about, and by whom, stays as it was, and so does what the request reader ensures. */
export function damage({ patient, mutations, atSite }: Damage): AdviceInput {
  const input = inputs.get(patient);
  if (!input) throw new Error(`no test patient ${patient}`);
  const { draftOrders, appointments } = input.context;
  const bundles = {
    ...(draftOrders !== undefined && { draftOrders }),
    ...(appointments !== undefined && { appointments }),
  };
  const fetched = Object.fromEntries(
    [...(input.fetched ?? [])].map(([key, { resources }]) => [
      key,
      { resourceType: 'Bundle', entry: resources },
    ]),
  );
  const hurt = mutate({ context: bundles, prefetch: input.prefetch, fetched }, mutations);
  const later = asObject(hurt.fetched) ?? {};
  return {
    ...input,
    context: { ...input.context, draftOrders: undefined, appointments: undefined, ...asObject(hurt.context) },
    prefetch: asObject(hurt.prefetch) ?? {},
    fetched: new Map(Object.keys(later).map((key) => [key, readDataSet(later, key, 'Bundle')])),
    ...(atSite && { site: northCampus }),
  };
}
