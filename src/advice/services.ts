import type { Entry, Rulebook } from '../rulebook/types.js';

/** The hooks this service answers. */
export type Hook = Entry;

/** One entry of the discovery document. A later call to the same id replaces earlier cards. */
export interface Service {
  readonly id: string;
  readonly hook: Hook;
  readonly about: 'booking' | 'order' | 'chart';
  /** Prefetch keys it publishes, in the order published. */
  readonly keys: readonly PrefetchKey[];
  /** Keys asked for by itself once it is known that the call is about a hip. */
  readonly laterKeys: readonly PrefetchKey[];
}

export const PREFETCH_KEYS = [
  'patient',
  'user',
  'encounter',
  'conditions',
  'procedures',
  'measures',
  'observations',
  'devices',
  'deviceUses',
  'serviceRequests',
  'deviceRequests',
  'questionnaireResponses',
  'appointments',
  'localMeasures',
] as const;
export type PrefetchKey = (typeof PREFETCH_KEYS)[number];

export const SERVICES: readonly Service[] = [
  {
    id: 'hip-stability-booking',
    hook: 'appointment-book',
    about: 'booking',
    keys: [
      'patient',
      'user',
      'encounter',
      'conditions',
      'procedures',
      'serviceRequests',
      'devices',
      'measures',
    ],
    laterKeys: [],
  },
  {
    id: 'hip-stability-order',
    hook: 'order-select',
    about: 'order',
    keys: [
      'patient',
      'encounter',
      'conditions',
      'procedures',
      'serviceRequests',
      'devices',
      'measures',
      'questionnaireResponses',
    ],
    laterKeys: [],
  },
  {
    id: 'hip-stability-order',
    hook: 'order-sign',
    about: 'order',
    keys: [
      'patient',
      'user',
      'encounter',
      'conditions',
      'procedures',
      'measures',
      'observations',
      'devices',
      'deviceUses',
      'serviceRequests',
      'deviceRequests',
      'questionnaireResponses',
    ],
    laterKeys: [],
  },
  {
    id: 'hip-stability-chart',
    hook: 'patient-view',
    about: 'chart',
    keys: [
      'patient',
      'user',
      'encounter',
      'conditions',
      'procedures',
      'serviceRequests',
      'devices',
      'appointments',
    ],
    laterKeys: ['measures', 'observations', 'deviceUses', 'deviceRequests', 'questionnaireResponses'],
  },
];

/** The id under which order-select is published apart, for clients that show only one hook of an id. */
export const SEPARATE_SELECT_ID = 'hip-stability-order-select';

/** The services as published: with distinct ids, order-select has its own. */
export function publishedServices(distinctIds: boolean): readonly Service[] {
  if (!distinctIds) return SERVICES;
  return SERVICES.map((service) =>
    service.hook === 'order-select' ? { ...service, id: SEPARATE_SELECT_ID } : service,
  );
}

/** The id a site file knows a service by, however its hooks are published. */
export function siteServiceId({ about }: Service): string {
  return `hip-stability-${about}`;
}

export const HIP_PLAN = 'https://kotyle.example/fhir/Questionnaire/hip-plan';

/**
 * The prefetch templates of a service: plain reads and searches that every R4 server knows. They are a public
 * interface: the same for every rulebook of one major version. `localCodes` are a site's own observation codes.
 */
export function prefetchTemplates(
  service: Service,
  rulebook: Rulebook,
  localCodes: readonly string[] = [],
): Readonly<Record<string, string>> {
  const keys = localCodes.length > 0 && readsLocalMeasures(service) ? [...service.keys, LOCAL] : service.keys;
  return Object.fromEntries(keys.map((key) => [key, template(key, rulebook, localCodes)]));
}

const LOCAL = 'localMeasures' as const;

/** Whether a site's own measures are published with the rest; at the chart they are read later. */
export function readsLocalMeasures(service: Service): boolean {
  return service.keys.includes('measures');
}

/** Every key a service may read: those published, those read later, and a site's own measures. */
export function allKeys(service: Service, localCodes: readonly string[]): readonly PrefetchKey[] {
  const keys = [...service.keys, ...service.laterKeys];
  return localCodes.length > 0 ? [...keys, LOCAL] : keys;
}

/** The search or read behind one key, with the tokens of CDS Hooks. */
export function template(key: PrefetchKey, rulebook: Rulebook, localCodes: readonly string[]): string {
  const patient = 'patient={{context.patientId}}';
  switch (key) {
    case 'patient':
      return 'Patient/{{context.patientId}}';
    case 'user':
      return 'PractitionerRole/{{userPractitionerRoleId}}';
    case 'encounter':
      return 'Encounter/{{context.encounterId}}';
    case 'conditions':
      return `Condition?${patient}`;
    case 'procedures':
      return `Procedure?${patient}`;
    case 'measures':
      return `Observation?${patient}&category=${rulebook.about.systems.group}`;
    case 'observations':
      return `Observation?${patient}&code=${rulebook.laboratoryCodes.map((code) => `http://loinc.org|${code}`).join(',')}`;
    case 'localMeasures':
      return `Observation?${patient}&code=${localCodes.join(',')}`;
    case 'devices':
      return `Device?${patient}`;
    case 'deviceUses':
      return `DeviceUseStatement?${patient}`;
    case 'serviceRequests':
      return `ServiceRequest?${patient}&status=draft,active,on-hold`;
    case 'deviceRequests':
      return `DeviceRequest?${patient}&status=draft,active,on-hold`;
    case 'questionnaireResponses':
      return `QuestionnaireResponse?${patient}&questionnaire=${HIP_PLAN}`;
    case 'appointments':
      return `Appointment?${patient}&status=proposed,pending,booked`;
  }
}
