import { SNOMED_CT } from '../../fhir/codings.js';
import type { FactKnowledge } from '../../facts/knowledge.js';

/** The line of a site's map that a local code in some place needs. */
export interface WantedLine {
  /** What the line would say, in words. */
  readonly says: string;
  /** The system its target belongs to. */
  readonly target: string;
}

/** Which line would make a local code understood in this place; undefined where no map is looked at. */
export function wantedAt(
  { resourceType, element }: { readonly resourceType: string; readonly element: string },
  { systems }: FactKnowledge,
): WantedLine | undefined {
  const says = PLACES[`${resourceType}.${element}`] ?? ELEMENTS[element];
  return says === undefined ? undefined : { says: SAYS[says], target: targetOf(says, systems) };
}

type Kind = 'operation' | 'visit' | 'diagnosis' | 'measure' | 'component' | 'value' | 'side';

const SAYS: Readonly<Record<Kind, string>> = {
  operation: 'an operation',
  visit: 'a visit for an operation',
  diagnosis: 'a diagnosis',
  measure: 'a measure',
  component: 'a qualifier of a measure',
  value: 'a coded answer',
  side: 'a side',
};

const PLACES: Readonly<Record<string, Kind>> = {
  'ServiceRequest.code': 'operation',
  'DeviceRequest.codeCodeableConcept': 'operation',
  'Procedure.code': 'operation',
  'Appointment.serviceType': 'visit',
  'Appointment.appointmentType': 'visit',
  'Appointment.reasonCode': 'visit',
  'Condition.code': 'diagnosis',
  'Observation.code': 'measure',
};

const ELEMENTS: Readonly<Record<string, Kind>> = {
  'parameter.code': 'measure',
  'component.code': 'component',
  valueCodeableConcept: 'value',
  'component.valueCodeableConcept': 'value',
  'parameter.valueCodeableConcept': 'value',
  'item.answer.valueCoding': 'value',
  bodySite: 'side',
};

function targetOf(kind: Kind, systems: FactKnowledge['systems']): string {
  switch (kind) {
    case 'operation':
    case 'visit':
    case 'diagnosis':
    case 'side':
      return SNOMED_CT;
    case 'measure':
    case 'component':
      return systems.measure;
    case 'value':
      return systems.measureValue;
  }
}
