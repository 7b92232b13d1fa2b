/** What a candidate rulebook would have done otherwise in one call, or that it could not be asked. */
export interface Difference {
  /** The evaluation it was compared with. */
  readonly decision: string;
  /** When that was made, as an ISO 8601 instant in UTC. */
  readonly at: string;
  readonly candidateHash: string;
  readonly kind: 'outcome' | 'card' | 'fault' | 'timeout';
  readonly hip?: string;
  readonly construct?: string;
  readonly rule?: string;
  /** What was said, and what would have been: outcomes, indicators or digests, never a value of a patient. */
  readonly was?: string;
  readonly would?: string;
}
