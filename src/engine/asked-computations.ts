import { conditionsOf } from '../rulebook/condition-facts.js';
import { compareText } from '../base/order.js';
import type { ComputationFile, Rulebook } from '../rulebook/types.js';
import { variantsIn } from '../rulebook/variants.js';

/** An input, and the input it stands in for where that is another. */
export type AskedInput = ComputationFile['inputs'][number] & { readonly as?: string };

export type AskedFile = Omit<ComputationFile, 'inputs'> & { readonly inputs: readonly AskedInput[] };

/** A computation under the id it is asked by: its own, or that of a variant. */
export interface Asked {
  readonly id: string;
  readonly file: AskedFile;
}

const askedOf = new WeakMap<Rulebook, readonly Asked[]>();

/** Every computation of the rulebook, and every variant of one that a condition asks about. */
export function askedComputations(rulebook: Rulebook): readonly Asked[] {
  const known = askedOf.get(rulebook);
  if (known) return known;
  const variants = new Map(
    rulebook.rules.flatMap(conditionsOf).flatMap((condition) => [...variantsIn(condition)]),
  );
  const asked = [
    ...[...rulebook.computations.values()].map((file) => ({ id: file.id, file })),
    ...[...variants.keys()].sort(compareText).flatMap((id) => {
      const variant = variants.get(id);
      const file = variant && rulebook.computations.get(variant.computation);
      return file ? [{ id, file: withStandIns(file, variant.with) }] : [];
    }),
  ];
  askedOf.set(rulebook, asked);
  return asked;
}

/** What was said for a missing input fits that input and no other, so a fact that stands in for it has no default. */
function withStandIns(file: ComputationFile, standIns: Readonly<Record<string, string>>): AskedFile {
  const inputs = file.inputs.map((input): AskedInput => {
    const fact = standIns[input.fact];
    return fact === undefined ? input : { fact, as: input.fact };
  });
  return { ...file, inputs };
}
