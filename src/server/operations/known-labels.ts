import { OTHER } from './tally.js';

/**
 * Makes a label of a value that a client may have chosen: the value where it is one of ours, `other` where it is not.
 * A label is kept in memory for as long as the service runs and is read by people who may see no patient data.
 */
export function labelAmong(known: ReadonlySet<string>, value: string | undefined): string {
  return value !== undefined && known.has(value) ? value : OTHER;
}
