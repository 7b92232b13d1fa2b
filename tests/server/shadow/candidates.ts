import type { AdviceInput } from '../../../src/advice/index.js';
import { COMPUTATION_IDS } from '../../../src/advice/index.js';
import { buildRulebook } from '../../../src/rulebook/build.js';
import { formatIssue } from '../../../src/rulebook/pack.js';
import type { Pack } from '../../../src/rulebook/pack.js';
import type { Rulebook } from '../../../src/rulebook/types.js';
import type { Candidate } from '../../../src/server/shadow/load-candidate.js';
import { THREAD } from '../../../src/server/shadow/candidate-thread.js';
import type { ThreadSettings } from '../../../src/server/shadow/candidate-thread.js';
import { shippedPack } from '../../rulebook/shipped.js';

/** The limit above which a cup counts as steep; the textbook hip's cup is planned at 40°. */
const LIMIT = 'cup-inclination-upper-limit';
const LIMITS_FILE = 'computations/cup-position.json';

/** The shipped rules with a lower limit for the inclination of a cup, so that a textbook hip would be spoken of. */
export const stricterPack: Pack = {
  files: shippedPack.files.map((file) =>
    file.path === LIMITS_FILE ? { ...file, content: withLimit(file.content, 30) } : file,
  ),
};

export const stricter: Candidate = candidateOf(stricterPack);
/** The shipped rules themselves, under another version: nothing but the version is another. */
export const renumbered: Candidate = candidateOf({
  files: shippedPack.files.map((file) =>
    file.path === 'rulebook.json' ? { ...file, content: renumber(file.content) } : file,
  ),
});

export function candidateOf(pack: Pack): Candidate {
  const { about, hash } = rulebookOf(pack);
  return { pack, version: about.version, hash };
}

export function rulebookOf(pack: Pack): Rulebook {
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok) throw new Error(built.issues.map(formatIssue).join('\n'));
  return built.rulebook;
}

interface Stated {
  readonly id: string;
  readonly allowed?: object;
}

function withLimit(content: unknown, limit: number): unknown {
  const { parameters } = content as { readonly parameters: readonly Stated[] };
  const changed = parameters.map((each) =>
    each.id === LIMIT ? { ...each, value: limit, allowed: { ...each.allowed, low: limit } } : each,
  );
  return { ...(content as object), parameters: changed };
}

function renumber(content: unknown): unknown {
  return JSON.parse(JSON.stringify(content).replaceAll(/2026\.11\.\d+/g, '2027.1.0')) as unknown;
}

/** The thread of a candidate as the tests run it, from source. */
export const FROM_SOURCE: ThreadSettings = { ...THREAD, entry: new URL('./from-source.js', import.meta.url) };

const READY = "parentPort.postMessage({ kind: 'ready' });";

/** Acts on every call, once it has said that it is ready. */
function onCall(act: string): string {
  return `parentPort.on('message', ({ kind }) => { if (kind === 'call') { ${act} } }); ${READY}`;
}

/** What the code behind a candidate might do wrong. */
const FAULTS = {
  'throws-at-start': "throw new Error('patient-1 at the start');",
  'never-ready': 'setInterval(() => undefined, 1_000);',
  throws: onCall("throw new Error('patient-1 in a message');"),
  loops: onCall('for (;;);'),
  grows: onCall('const kept = []; for (;;) kept.push(new Array(10_000).fill(kept.length));'),
  exits: onCall('process.exit(0);'),
  prints: onCall(
    "process.stdout.write('patient-1 printed'); process.stderr.write('patient-1 too'); parentPort.postMessage({ kind: 'compared', differences: [] });",
  ),
} as const;

/** A thread that does something wrong with every call, or before the first. */
export function faulty(how: keyof typeof FAULTS): ThreadSettings {
  const code = `import { parentPort } from 'node:worker_threads'; ${FAULTS[how]}`;
  return { ...THREAD, entry: new URL(`data:text/javascript,${encodeURIComponent(code)}`), memoryMb: 64 };
}

/** The body in which a call came. */
export function bodyOf({ service, hookInstance, context, prefetch }: AdviceInput): Uint8Array {
  return Buffer.from(JSON.stringify({ hook: service.hook, hookInstance, context, prefetch }));
}
