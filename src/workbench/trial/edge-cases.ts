import { readdirSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import { compareText } from '../../base/order.js';
import type { Rulebook } from '../../rulebook/types.js';
import { allChecked, readChecked } from '../checked-file.js';
import type { Checked } from '../checked-file.js';
import type { TestPatient } from '../test-patients.js';
import { changedBundle } from './edge-bundle.js';
import { changesSchema, edgesSchema } from './edge-schema.js';
import type { Changes, EdgeCase, EdgeGroup, Edges } from './edge-schema.js';
import type { TrialCase } from './trial-case.js';

/** What edge cases stand on: the patients they change, and the measures there are. */
export interface EdgeGround {
  readonly patients: readonly TestPatient[];
  readonly rulebook: Rulebook;
}

/** Reads every file of edge cases in a folder and puts the changes into the patients they name. */
export function readEdgeCases(folder: string, ground: EdgeGround): Checked<readonly TrialCase[]> {
  const kind = statSync(folder, { throwIfNoEntry: false });
  if (!kind?.isDirectory()) {
    const found = kind ? 'a file' : 'nothing';
    return { ok: false, faults: [`expected a folder of edge cases, found ${found} at ${folder}`] };
  }
  const files = readdirSync(folder).filter((name) => name.endsWith('.json'));
  const read = files.sort(compareText).map((name): Checked<readonly TrialCase[]> => {
    const file = join(folder, name);
    const edges = readChecked(file, edgesSchema);
    return edges.ok ? edgeCasesOf(edges.value, file, ground) : edges;
  });
  const all = allChecked(read);
  return all.ok ? { ok: true, value: all.value.flat() } : all;
}

/** The calls of one file of edge cases. */
export function edgeCasesOf(edges: Edges, file: string, ground: EdgeGround): Checked<readonly TrialCase[]> {
  if (!ground.rulebook.rules.some(({ id }) => id === edges.rule))
    return { ok: false, faults: [`${file} at rule: expected the id of a rule, found ${edges.rule}`] };
  const made = edges.groups.flatMap((group, groupIndex) =>
    group.cases.flatMap((one, caseIndex) => {
      const at = `groups[${groupIndex}].cases[${caseIndex}]`;
      const name = `edges/${basename(file, '.json')} ${groupIndex + 1}.${caseIndex + 1}`;
      return variants(group, one).map(({ changes, suffix }) =>
        attempt(`${file} at ${at}`, () =>
          trialCase({ edges, group, one, changes, name: `${name}${suffix}` }, ground),
        ),
      );
    }),
  );
  return allChecked(made);
}

interface Placed {
  readonly edges: Edges;
  readonly group: EdgeGroup;
  readonly one: EdgeCase;
  readonly changes: readonly Changes[];
  readonly name: string;
}

/** The changes of group and case, once for each of the variations either asks for. */
function variants(
  group: EdgeGroup,
  one: EdgeCase,
): readonly { readonly changes: readonly Changes[]; readonly suffix: string }[] {
  const outer = group.each ?? [{}];
  const inner = one.each ?? [{}];
  const several = outer.length * inner.length > 1;
  return outer.flatMap((first, a) =>
    inner.map((second, b) => ({
      changes: [changesOf(group), first, changesOf(one), second],
      suffix: several ? String.fromCharCode(97 + a * inner.length + b) : '',
    })),
  );
}

function changesOf(given: EdgeGroup | EdgeCase): Changes {
  const names = Object.keys(changesSchema.shape);
  return Object.fromEntries(Object.entries(given).filter(([name]) => names.includes(name)));
}

function trialCase({ edges, group, one, changes, name }: Placed, ground: EdgeGround): TrialCase {
  const base = one.base ?? group.base;
  const hook = one.hook ?? group.hook;
  if (base === undefined) throw new Error('expected a base in the case or its group');
  if (hook === undefined) throw new Error('expected a hook in the case or its group');
  const patient = ground.patients.find((each) => each.name === base);
  if (!patient) throw new Error(`base: expected the name of a test patient, found ${base}`);
  const { now } = patient.expected;
  const hip = one.hip ?? group.hip;
  const construct = one.construct ?? group.construct;
  const unread = changes.flatMap((change) => change.unread ?? []);
  return {
    name,
    hook,
    bundle: changedBundle(patient.bundle, changes, now, ground.rulebook),
    ...(unread.length > 0 && { unread }),
    now,
    teaches: one.teaches,
    expects: {
      kind: 'outcome',
      rule: edges.rule,
      outcome: one.expect,
      ...(hip && { hip }),
      ...(construct && { construct }),
      says: listOf(one.says),
      never: listOf(one.never),
      ...(one.needs && { needs: one.needs }),
    },
  };
}

function listOf(given: string | readonly string[] | undefined): readonly string[] {
  if (given === undefined) return [];
  return typeof given === 'string' ? [given] : given;
}

function attempt<Value>(where: string, make: () => Value): Checked<Value> {
  try {
    return { ok: true, value: make() };
  } catch (error) {
    return { ok: false, faults: [`${where}: ${error instanceof Error ? error.message : String(error)}`] };
  }
}
