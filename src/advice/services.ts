import type { Entry, Rulebook } from '../rulebook/types.js';

/** The hooks this service answers today. */
export type Hook = Extract<Entry, 'appointment-book' | 'order-sign'>;

/** One entry of the discovery document. */
export interface Service {
  readonly id: string;
  readonly hook: Hook;
  readonly about: 'booking' | 'order';
  /** Prefetch keys it publishes, in the order published. */
  readonly keys: readonly PrefetchKey[];
}

export type PrefetchKey =
  'patient' | 'conditions' | 'procedures' | 'serviceRequests' | 'measures' | 'observations';

export const SERVICES: readonly Service[] = [
  {
    id: 'hip-stability-booking',
    hook: 'appointment-book',
    about: 'booking',
    keys: ['patient', 'conditions', 'procedures', 'serviceRequests', 'measures'],
  },
  {
    id: 'hip-stability-order',
    hook: 'order-sign',
    about: 'order',
    keys: ['patient', 'conditions', 'procedures', 'measures', 'observations', 'serviceRequests'],
  },
];

/**
 * The prefetch templates of a service: plain reads and searches that every R4 server knows. They are a public
 * interface: the same for every rulebook of one major version.
 */
export function prefetchTemplates(service: Service, rulebook: Rulebook): Readonly<Record<string, string>> {
  return Object.fromEntries(service.keys.map((key) => [key, template(key, rulebook)]));
}

function template(key: PrefetchKey, rulebook: Rulebook): string {
  const patient = 'patient={{context.patientId}}';
  switch (key) {
    case 'patient':
      return 'Patient/{{context.patientId}}';
    case 'conditions':
      return `Condition?${patient}`;
    case 'procedures':
      return `Procedure?${patient}`;
    case 'serviceRequests':
      return `ServiceRequest?${patient}&status=draft,active,on-hold`;
    case 'measures':
      return `Observation?${patient}&category=${rulebook.about.systems.group}`;
    case 'observations':
      return `Observation?${patient}&code=${rulebook.laboratoryCodes.map((code) => `http://loinc.org|${code}`).join(',')}`;
  }
}
