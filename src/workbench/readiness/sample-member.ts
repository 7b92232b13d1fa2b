import type { AdviceInput } from '../../advice/index.js';

/** One member of a sample: the calls it makes, or why it makes none. */
export type SampleMember =
  | { readonly where: string; readonly form: 'call' | 'bundle'; readonly inputs: readonly AdviceInput[] }
  | UnreadableMember;

/** A line or file that could not be used: where it stands and why, without anything of a patient. */
export interface UnreadableMember {
  readonly where: string;
  readonly why: string;
}
