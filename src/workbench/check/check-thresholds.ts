import type { ParsedPack } from '../../rulebook/parse-pack.js';
import type { ConditionFile } from '../../rulebook/rule-schema.js';
import type { Parameter } from '../../rulebook/types.js';
import { faultsOf } from './finding.js';
import type { Fault, ReportFault } from './finding.js';

/** Whether what decides is meant to decide, and stands on a source or a stated reason. */
export function checkThresholds(parsed: ParsedPack): readonly Fault[] {
  return faultsOf('parameters', (report) => {
    for (const { file, value } of parsed.parameters) checkBasis(file, value, report);
    const parameters = new Map(parsed.parameters.map(({ value }) => [value.id, value]));
    for (const { file, path, id } of limitsWritten(parsed)) {
      const use = parameters.get(id)?.use;
      if (use === 'default' || use === 'motion-set')
        report(file, path, 'a parameter meant as a limit', `${id}, meant as ${use}`);
    }
  });
}

/** A limit without a citation says in words what it rests on. */
function checkBasis(file: string, { id, use, citations, why }: Parameter, report: ReportFault): void {
  if (use === 'threshold' && citations.length === 0 && why.trim() === '')
    report(file, `parameters.${id}.why`, 'a citation, or what the limit rests on', 'neither');
}

interface LimitPlace {
  readonly file: string;
  readonly path: string;
  readonly id: string;
}

function limitsWritten({ rules, conditions }: ParsedPack): readonly LimitPlace[] {
  return [
    ...rules.flatMap(({ file, value }) =>
      [
        ...limitsIn(value.appliesWhen, 'appliesWhen'),
        ...limitsIn(value.when, 'when'),
        ...value.findings.flatMap(({ where }, index) =>
          where ? limitsIn(where, `findings[${index}].where`) : [],
        ),
      ].map((limit) => ({ file, ...limit })),
    ),
    ...conditions.flatMap(({ file, value }) =>
      limitsIn(value.when, 'when').map((limit) => ({ file, ...limit })),
    ),
  ];
}

/** Every parameter a condition compares with, and where. */
export function limitsIn(
  condition: ConditionFile,
  path: string,
): readonly { readonly path: string; readonly id: string }[] {
  if ('condition' in condition) return [];
  if ('all' in condition)
    return condition.all.flatMap((child, index) => limitsIn(child, `${path}.all[${index}]`));
  if ('any' in condition)
    return condition.any.flatMap((child, index) => limitsIn(child, `${path}.any[${index}]`));
  if ('not' in condition) return limitsIn(condition.not, `${path}.not`);
  const { value } = condition;
  return typeof value === 'object' && 'parameter' in value
    ? [{ path: `${path}.value`, id: value.parameter }]
    : [];
}
