import { z } from 'zod';
import type { MutantPlace } from './mutant.js';

/** The form of the reviewed list of changes that no test patient need notice. */
export const survivorsSchema = z.strictObject({
  survivors: z.array(
    z.strictObject({
      /** The mutant's id, whole. */
      id: z.string().min(1),
      /** Why nobody need notice it. */
      reason: z.string().min(20),
      date: z.iso.date(),
      /** The role of whoever judged it. */
      reviewer: z.string().min(1),
    }),
  ),
});

export type ReviewedSurvivor = z.infer<typeof survivorsSchema>['survivors'][number];

export interface Survivor extends MutantPlace {
  readonly explained?: ReviewedSurvivor;
}

export function withReasons(
  survivors: readonly MutantPlace[],
  reviewed: readonly ReviewedSurvivor[],
): readonly Survivor[] {
  const byId = new Map(reviewed.map((one) => [one.id, one]));
  return survivors.map(({ id, kind, file, path, change }) => {
    const explained = byId.get(id);
    return { id, kind, file, path, change, ...(explained && { explained }) };
  });
}

/** Reviewed entries whose mutant was made and noticed, or is not made any more: the review no longer fits the rules. */
export function staleReasons(
  reviewed: readonly ReviewedSurvivor[],
  survivors: readonly MutantPlace[],
  isTried: (id: string) => boolean,
): readonly ReviewedSurvivor[] {
  const surviving = new Set(survivors.map(({ id }) => id));
  return reviewed.filter(({ id }) => !surviving.has(id) && isTried(id));
}
