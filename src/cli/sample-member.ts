import { SERVICES } from '../advice/index.js';
import type { AdviceInput } from '../advice/index.js';
import { HOOKS_BY_NAME, inputsFromBundle } from '../advice/hook-inputs.js';
import type { EvaluationSetting } from '../advice/hook-inputs.js';
import { asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { readHookRequest } from '../server/hook-request.js';
import { patientBundle } from '../workbench/evaluate/read-bundle.js';
import type { SampleMember } from '../workbench/readiness/sample-member.js';
import { asStored } from './stored-bundle.js';

/** Reads one hook call or one patient's Bundle; what is wrong with it is told without anything of a patient. */
export function sampleMember(text: string, where: string, setting: EvaluationSetting): SampleMember {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return { where, why: 'expected JSON, found something else' };
  }
  const object = asObject(value);
  if (!object) return { where, why: 'expected a hook call or a Bundle, found neither' };
  return 'hook' in object ? callMember(object, where, setting) : bundleMember(object, where, setting);
}

/** The calls a record system would make for one patient. */
export function membersOfBundle(bundle: JsonObject, where: string, setting: EvaluationSetting): SampleMember {
  return { where, form: 'bundle', inputs: inputsFromBundle(bundle, HOOKS_BY_NAME.all, setting) };
}

function bundleMember(bundle: JsonObject, where: string, setting: EvaluationSetting): SampleMember {
  const read = patientBundle(bundle, where);
  if (read.ok) return membersOfBundle(asStored(read.bundle), where, setting);
  // After a number of patients their ids are named.
  return { where, why: read.message.slice(`${where}: `.length).replace(/(found \d+): .*$/, '$1') };
}

function callMember(body: JsonObject, where: string, { site, now, engine }: EvaluationSetting): SampleMember {
  const service = SERVICES.find(({ hook }) => hook === body['hook']);
  if (!service) return { where, why: `expected one of ${HOOKS}, found another hook` };
  const read = readHookRequest(body, service, false);
  if (!read.ok)
    return { where, why: read.issues.map(({ path, message }) => `${path}: ${message}`).join('; ') };
  const { hookInstance, patientId, userId, context, prefetch, fhirServer } = read.value;
  const input: AdviceInput = {
    ...{ service, hookInstance, patientId, userId, context, prefetch, now, engine, iss: '-' },
    ...(fhirServer !== undefined && { fhirServer }),
    ...(site && { site }),
  };
  return { where, form: 'call', inputs: [input] };
}

const HOOKS = SERVICES.map(({ hook }) => hook).join(', ');
