import { readdirSync, statSync } from 'node:fs';
import { basename, join, resolve } from 'node:path';
import { z } from 'zod';
import { compareText } from '../base/order.js';
import type { JsonObject } from '../fhir/json.js';
import { allChecked, readChecked, readText } from './checked-file.js';
import type { Checked } from './checked-file.js';
import { readPatientBundle } from './evaluate/read-bundle.js';

export const TRIED_HOOKS = ['appointment-book', 'order-select', 'order-sign', 'patient-view'] as const;

const card = z.strictObject({
  rule: z.string().min(1),
  hip: z.enum(['left', 'right', 'both', 'unknown', 'any']),
  indicator: z.enum(['info', 'warning', 'critical']),
});

/** The form of `expected.json`. */
export const expectationSchema = z.strictObject({
  /** One line on what the patient teaches. */
  teaches: z.string().min(1),
  /** Where the truth comes from; `recorded` until somebody has judged it. */
  truth: z.enum(['published', 'closed-form', 'independent-implementation', 'clinician', 'recorded']),
  /** The time of the call, an ISO 8601 instant. */
  now: z.iso.datetime({ offset: true }),
  /** Exactly the cards each hook must answer with; a hook that is not listed is not tried. */
  cards: z.partialRecord(z.enum(TRIED_HOOKS), z.array(card)),
});

export type ExpectedCard = z.infer<typeof card>;
export type Expectation = z.infer<typeof expectationSchema>;

/** An invented patient with the exact cards it must produce. */
export interface TestPatient {
  readonly name: string;
  readonly bundle: JsonObject;
  readonly expected: Expectation;
}

/**
 * Reads test patients below a folder, one folder each with `bundle.json` and `expected.json`, sorted by name; a folder
 * that holds the two files itself is one test patient. Any fault refuses the whole: half a trial proves nothing.
 */
export function readTestPatients(folder: string): Checked<readonly TestPatient[]> {
  const kind = statSync(folder, { throwIfNoEntry: false });
  if (!kind?.isDirectory())
    return fault(`expected a folder of test patients, found ${kind ? 'a file' : 'nothing'} at ${folder}`);
  const inside = readdirSync(folder, { withFileTypes: true });
  if (inside.some((entry) => entry.isFile() && entry.name === 'bundle.json'))
    return allChecked([readTestPatient(folder)]);
  const names = inside.filter((entry) => entry.isDirectory() && !entry.name.startsWith('.'));
  if (names.length === 0)
    return fault(
      `expected one folder for each test patient in ${folder}, with bundle.json and expected.json, found none`,
    );
  return allChecked(
    names
      .map(({ name }) => name)
      .sort(compareText)
      .map((name) => readTestPatient(join(folder, name))),
  );
}

function readTestPatient(folder: string): Checked<TestPatient> {
  const bundle = readBundle(join(folder, 'bundle.json'));
  const expected = readChecked(join(folder, 'expected.json'), expectationSchema);
  if (!bundle.ok || !expected.ok)
    return {
      ok: false,
      faults: [...(bundle.ok ? [] : bundle.faults), ...(expected.ok ? [] : expected.faults)],
    };
  const name = basename(resolve(folder));
  return { ok: true, value: { name, bundle: bundle.value, expected: expected.value } };
}

function readBundle(file: string): Checked<JsonObject> {
  const text = readText(file);
  if (text === undefined) return fault(`${file}: expected a FHIR Bundle, found nothing to read`);
  const read = readPatientBundle(text, file);
  return read.ok ? { ok: true, value: read.bundle } : fault(read.message);
}

function fault(message: string): { readonly ok: false; readonly faults: readonly string[] } {
  return { ok: false, faults: [message] };
}
