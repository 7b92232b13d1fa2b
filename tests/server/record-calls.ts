import { prefetchTemplates } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { SetQuery } from '../../src/server/fallback/set-query.js';
import { rulebook, service } from '../advice/patients.js';
import type { HookCall } from './test-service.js';

/** Names of the resources that travel in the context of a call: being drafted, chosen, signed or booked. */
export function travellingIn({ context }: HookCall): ReadonlySet<string> {
  const bundles = [context['draftOrders'], context['appointments']] as readonly (JsonObject | undefined)[];
  const resources = bundles.flatMap((bundle) => (bundle?.['entry'] ? entriesOf(bundle) : []));
  return new Set(resources.map(({ resourceType, id }) => `${String(resourceType)}/${String(id)}`));
}

/** The resources in a Bundle. */
export function entriesOf(bundle: JsonObject): readonly JsonObject[] {
  return (bundle['entry'] as readonly { readonly resource: JsonObject }[]).map(({ resource }) => resource);
}

/** The published templates of a hook's service with the ids of a call put in; one that asks for another id is left out. */
export function queriesFor(call: HookCall): readonly SetQuery[] {
  const templates = prefetchTemplates(service(call.hook), rulebook);
  return Object.entries(templates).flatMap(([key, text]) => {
    const url = text.replaceAll('{{context.patientId}}', String(call.context['patientId']));
    return url.includes('{{') ? [] : [{ key, url }];
  });
}

/** The members of a call that let the record system be asked. */
export function accessTo(
  fhirServer: string,
  more: { readonly token?: string; readonly scope?: string; readonly expiresIn?: number } = {},
): JsonObject {
  const { token = 'Zqxtoken', scope = 'patient/*.read', expiresIn = 300 } = more;
  return {
    fhirServer,
    fhirAuthorization: {
      access_token: token,
      token_type: 'Bearer',
      expires_in: expiresIn,
      scope,
      subject: 'kotyle',
    },
  };
}

export function pathOfHook(hook: string): string {
  return `/cds-services/${service(hook).id}`;
}
