import type { z } from 'zod';
import type { FactDefinition } from '../facts/definitions.js';
import { SEXES } from '../facts/patient-fact.js';
import type { FactKnowledge, MeasuringError } from '../facts/knowledge.js';
import { lateralityTables } from '../facts/laterality.js';
import { ValueSetIndex } from '../facts/value-set-index.js';
import type { codeListsOf } from './code-lists.js';
import type { FactFile, ParsedPack } from './parse-pack.js';
import type { FactKind } from './resolve-condition.js';
import type { aliasesSchema, icdLateralitySchema, snomedLateralitySchema } from './terminology-schema.js';
import type { ComputationFile, Parameter, RulebookFile } from './types.js';

export function factDefinition(file: FactFile, parameters: ReadonlyMap<string, Parameter>): FactDefinition {
  switch (file.kind) {
    case 'measure': {
      const { plausible, conflict } = file;
      return {
        ...without(file, ['version', 'plausible', 'conflict', 'measuringError']),
        ...(plausible && { plausible: rangeOf(plausible.parameter, parameters) }),
        ...(conflict && {
          conflict: { beyond: numberOf(conflict.parameter, parameters), parameter: conflict.parameter },
        }),
      };
    }
    case 'observation': {
      const { plausible, staleAfter } = file;
      return {
        ...without(file, ['version', 'plausible', 'staleAfter']),
        ...(plausible && { plausible: rangeOf(plausible.parameter, parameters) }),
        ...(staleAfter && {
          staleAfter: { months: numberOf(staleAfter.parameter, parameters), parameter: staleAfter.parameter },
        }),
      };
    }
    case 'aged': {
      const { parameter } = file.olderThan;
      return {
        ...without(file, ['version', 'olderThan']),
        olderThan: { months: numberOf(parameter, parameters), parameter },
      };
    }
    default:
      return without(file, ['version']);
  }
}

type Known<Value, Left extends PropertyKey> = {
  [Key in keyof Value as Key extends Left ? never : Key]: Exclude<Value[Key], undefined>;
};

/** Leaves out the members named, and those that zod read as undefined, as the types of `facts` want them. */
function without<Value extends object, Left extends keyof Value>(
  value: Value,
  left: readonly Left[],
): Known<Value, Left> {
  const kept = Object.entries(value).filter(
    ([name, member]) => member !== undefined && !left.includes(name as Left),
  );
  return Object.fromEntries(kept) as Known<Value, Left>;
}

function rangeOf(
  id: string,
  parameters: ReadonlyMap<string, Parameter>,
): { low: number; high: number; parameter: string } {
  const value = parameters.get(id)?.value;
  if (!Array.isArray(value) || typeof value[0] !== 'number' || typeof value[1] !== 'number') {
    throw new TypeError(`parameter ${id} is not a range`);
  }
  return { low: value[0], high: value[1], parameter: id };
}

/** The number a parameter stands for; throws when it is none, which the reference check has ruled out. */
export function numberOf(id: string, parameters: ReadonlyMap<string, Parameter>): number {
  const value = parameters.get(id)?.value;
  if (typeof value !== 'number') throw new TypeError(`parameter ${id} is not a number`);
  return value;
}

/** What each fact or computation yields, for the operators that may ask about it. */
export function factKinds(
  facts: readonly FactDefinition[],
  computations: ReadonlyMap<string, ComputationFile>,
): ReadonlyMap<string, FactKind> {
  const kinds = new Map<string, FactKind>();
  for (const { id, unit } of computations.values()) kinds.set(id, { yields: 'number', unit });
  for (const fact of facts) kinds.set(fact.id, factKind(fact));
  return kinds;
}

function factKind(fact: FactDefinition): FactKind {
  switch (fact.kind) {
    case 'measure':
    case 'derived': {
      const values = fact.values ? { values: fact.values } : {};
      if (fact.valueType === 'code') return { yields: 'code', ...values };
      if (fact.valueType === 'boolean') return { yields: 'flag' };
      return { yields: 'number', ...(fact.unit !== undefined && { unit: fact.unit }) };
    }
    case 'patient':
      return fact.of === 'age'
        ? { yields: 'number', ...(fact.unit !== undefined && { unit: fact.unit }) }
        : { yields: 'code', values: SEXES };
    case 'observation':
    case 'episodes':
    case 'carried-out':
    case 'first-dislocation':
      return { yields: 'number', unit: fact.unit };
    case 'operation':
    case 'replacement-kind':
    case 'version-sign':
      return { yields: 'code', values: fact.values };
    case 'condition':
    case 'finding':
    case 'history':
    case 'presence':
    case 'unclear':
    case 'aged':
    case 'after-replacement':
      return { yields: 'record' };
  }
}

export function knowledgeOf(
  parsed: ParsedPack,
  about: RulebookFile,
  facts: readonly FactDefinition[],
  parameters: ReadonlyMap<string, Parameter>,
  lists: ReturnType<typeof codeListsOf>,
  tables: {
    readonly icd: z.infer<typeof icdLateralitySchema>;
    readonly pcs: z.infer<typeof icdLateralitySchema>;
    readonly snomed: z.infer<typeof snomedLateralitySchema>;
    readonly aliases: z.infer<typeof aliasesSchema>;
  },
): FactKnowledge {
  const aliases = Object.entries(tables.aliases).flatMap(([canonical, others]) =>
    others.map((other) => [other, canonical] as const),
  );
  return {
    definitions: facts,
    valueSets: new ValueSetIndex(lists),
    laterality: lateralityTables({ icd: tables.icd.families, pcs: tables.pcs.families }, tables.snomed),
    aliases: new Map(aliases),
    systems: about.systems,
    operations: new Map(Object.entries(about.operations)),
    appointmentOperations: new Map(Object.entries(about.appointmentOperations)),
    historyOperations: new Map(Object.entries(about.historyOperations)),
    methodOrder: about.methodOrder,
    methodsShowingSign: new Set(about.methodsShowingSign),
    remarks: about.remarks,
    implantedBy: new Set(about.implantedBy),
    qualifiers: new Map(Object.entries(about.qualifiers)),
    measuringErrors: new Map(parsed.facts.flatMap(({ value }) => measuringError(value, parameters))),
  };
}

function measuringError(
  fact: FactFile,
  parameters: ReadonlyMap<string, Parameter>,
): readonly (readonly [string, MeasuringError])[] {
  if (fact.kind !== 'measure' || !fact.measuringError) return [];
  const { byMethod, otherwise, unknown } = fact.measuringError;
  const errors = Object.entries(byMethod).map(
    ([method, { parameter }]) => [method, numberOf(parameter, parameters)] as const,
  );
  return [
    [
      fact.id,
      { byMethod: Object.fromEntries(errors), otherwise: numberOf(otherwise.parameter, parameters), unknown },
    ],
  ];
}
