import type { Row } from './row.js';

/** A subject of the page. */
export interface Section {
  readonly title: string;
  /** What is computed and how, before the table. */
  readonly paragraphs: readonly string[];
  readonly rows: readonly Row[];
}
