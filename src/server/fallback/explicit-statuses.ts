/** A search parameter for the state of a resource, and the codes worth asking for. */
export interface StatusParameter {
  readonly name: string;
  readonly codes: readonly string[];
}

/**
 * Some servers demand a status in every search. These are the codes of FHIR R4 by which a resource can still count;
 * those under which no reader uses one (entered-in-error, a cancelled result, a procedure not done) are not asked for.
 * R4 has no search parameter for the status of a DeviceUseStatement.
 */
const STATUS_PARAMETERS: Readonly<Record<string, StatusParameter>> = {
  Condition: {
    name: 'clinical-status',
    codes: ['active', 'recurrence', 'relapse', 'inactive', 'remission', 'resolved'],
  },
  Procedure: {
    name: 'status',
    codes: ['preparation', 'in-progress', 'on-hold', 'stopped', 'completed', 'unknown'],
  },
  Observation: {
    name: 'status',
    codes: ['registered', 'preliminary', 'final', 'amended', 'corrected', 'unknown'],
  },
  ServiceRequest: { name: 'status', codes: ['draft', 'active', 'on-hold', 'completed', 'unknown'] },
  DeviceRequest: { name: 'status', codes: ['draft', 'active', 'on-hold', 'completed', 'unknown'] },
  QuestionnaireResponse: { name: 'status', codes: ['in-progress', 'completed', 'amended', 'stopped'] },
  Appointment: {
    name: 'status',
    codes: ['proposed', 'pending', 'booked', 'arrived', 'checked-in', 'waitlist'],
  },
  Device: { name: 'status', codes: ['active', 'inactive', 'unknown'] },
};

export function statusParameter(type: string): StatusParameter | undefined {
  return Object.hasOwn(STATUS_PARAMETERS, type) ? STATUS_PARAMETERS[type] : undefined;
}
