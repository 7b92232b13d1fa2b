import { fileURLToPath } from 'node:url';
import type { Advisor } from '../../advice/index.js';
import { SHIPPED } from '../shipped-fixtures.js';
import { readTestPatients } from '../test-patients.js';
import type { Checked } from '../checked-file.js';
import { readReadings } from './reading.js';
import type { Reading } from './reading.js';
import { compare, readingPage } from './reading-page.js';
import { toldOf } from './told-of-patient.js';
import type { ToldPatient } from './told-of-patient.js';

export const READERS = fileURLToPath(new URL('../../../fixtures/readers', import.meta.url));

/** One reader's patient with everything told of it, and what of the reasoning does not hold. */
export interface ReaderPage {
  readonly reading: Reading;
  readonly told: readonly ToldPatient[];
  readonly page: string;
  readonly faults: readonly string[];
}

/** Every reader's patient that comes with the rules, as these rules tell of it. */
export async function readerPages(advisor: Advisor, engine: string): Promise<readonly ReaderPage[]> {
  const patients = new Map(sound(readTestPatients(SHIPPED.patients)).map((one) => [one.name, one]));
  const pages: ReaderPage[] = [];
  for (const reading of sound(readReadings(READERS))) {
    const told: ToldPatient[] = [];
    for (const name of reading.patients) {
      const patient = patients.get(name);
      if (!patient) throw new Error(`${reading.id}: no test patient ${name}`);
      told.push(await toldOf(patient, advisor, engine));
    }
    const faults = compare(reading, told).flatMap((one) => one.faults);
    pages.push({ reading, told, page: readingPage(reading, told), faults });
  }
  return pages;
}

function sound<Value>(read: Checked<Value>): Value {
  if (!read.ok) throw new Error(read.faults.join('\n'));
  return read.value;
}
