import { readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import { codingsOf } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import { asText } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { FactKnowledge, OperationKind } from './knowledge.js';
import { sideOf } from './laterality.js';
import type { SideReading } from './laterality.js';
import { operationOf } from './recognition.js';

export interface PastArthroplasty {
  readonly name: string;
  readonly side: SideReading;
  readonly kind: OperationKind;
  readonly date?: string;
  readonly span?: Span;
  readonly by: Required<Coding>;
}
export interface ProcedureHistory {
  readonly arthroplasties: readonly PastArthroplasty[];
  readonly inProgress: readonly { readonly name: string; readonly side: SideReading }[];
}
export function readProcedureHistory(
  procedures: readonly Located[],
  context: { readonly knowledge: FactKnowledge },
): ProcedureHistory {
  const { knowledge } = context;
  const read = procedures.flatMap((located) => {
    const { resource } = located;
    const match = operationOf(
      codingsOf(resource['code'], knowledge.aliases),
      knowledge.operations,
      knowledge,
    );
    if (!match || match.kind === 'other-hip') return [];
    const date = asText(resource['performedDateTime']);
    const span = readFhirDate(date);
    const side = sideOf(resource, knowledge.laterality, knowledge.aliases);
    return [
      {
        name: nameOf(located),
        side,
        ...match,
        status: resource['status'],
        ...(date !== undefined && { date }),
        ...(span && { span }),
      },
    ];
  });
  return {
    arthroplasties: read.filter(({ status }) => status === 'completed'),
    inProgress: read.filter(({ status }) => status === 'in-progress'),
  };
}
