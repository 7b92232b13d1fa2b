import type { AuditEvent, AuditEventEntityDetail } from 'fhir/r4.js';
import type { DecisionRecord } from '../../store/store.js';

const CANONICAL = 'https://kotyle.example/fhir';
const PSEUDONYM = `${CANONICAL}/NamingSystem/pseudonym`;
const EVALUATION = `${CANONICAL}/NamingSystem/evaluation`;
const CLIENT = `${CANONICAL}/NamingSystem/client`;

/** One decision as a FHIR R4 AuditEvent: who asked, about whom, which knowledge answered, what it said and showed. */
export function auditEvent(record: DecisionRecord): AuditEvent {
  const { id, at, iss, patient, user } = record;
  return {
    resourceType: 'AuditEvent',
    id,
    type: {
      system: 'http://terminology.hl7.org/CodeSystem/audit-event-type',
      code: 'rest',
      display: 'RESTful Operation',
    },
    subtype: [{ system: 'http://hl7.org/fhir/restful-interaction', code: 'operation', display: 'operation' }],
    action: 'E',
    recorded: at,
    outcome: '0',
    agent: [
      { who: { identifier: { system: PSEUDONYM, value: user } }, requestor: true },
      { who: { identifier: { system: CLIENT, value: iss } }, requestor: false },
    ],
    source: {
      observer: { display: `Kotyle ${record.engine}` },
      type: [
        {
          system: 'http://terminology.hl7.org/CodeSystem/security-source-type',
          code: '4',
          display: 'Application Server',
        },
      ],
    },
    entity: [
      {
        what: { identifier: { system: PSEUDONYM, value: patient } },
        type: {
          system: 'http://terminology.hl7.org/CodeSystem/audit-entity-type',
          code: '1',
          display: 'Person',
        },
        role: { system: 'http://terminology.hl7.org/CodeSystem/object-role', code: '1', display: 'Patient' },
      },
      {
        what: { identifier: { system: EVALUATION, value: id } },
        type: {
          system: 'http://terminology.hl7.org/CodeSystem/audit-entity-type',
          code: '2',
          display: 'System Object',
        },
        detail: detailsOf(record),
      },
    ],
  };
}

function detailsOf(record: DecisionRecord): AuditEventEntityDetail[] {
  const { service, hook, hookInstance, tenant, rulebook, site, recognised, silent, outcomes, cards } = record;
  const told: readonly (readonly [string, string | undefined])[] = [
    ['service', service],
    ['hook', hook],
    ['hookInstance', hookInstance],
    ['tenant', tenant],
    ['rulebook', `${rulebook.version} ${rulebook.hash}`],
    ['site', site && `${site.id} ${site.version} ${site.hash}`],
    ['recognised', recognised],
    ['silent', silent && 'true'],
    ...outcomes.map(
      ({ rule, ruleVersion, hip, construct, outcome, shown }) =>
        [
          'outcome',
          `${rule} ${ruleVersion}, ${hip}, ${construct}: ${outcome}${shown ? ', shown' : ''}`,
        ] as const,
    ),
    ...cards.map(({ uuid, rule, indicator }) => ['card', `${uuid} ${rule} ${indicator}`] as const),
  ];
  return told.flatMap(([type, valueString]) => (valueString === undefined ? [] : [{ type, valueString }]));
}
