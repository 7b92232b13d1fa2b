import type { HookCall } from './test-service.js';

/** Planted where only a record could have put it. Letters only, so that no code, date or number turns into it. */
export const MARKER = 'Zqxmarker';

/** Rebuilds a JSON value with every text in it changed; the path is the names on the way, list positions left out. */
export function mapTexts(
  value: unknown,
  change: (text: string, path: readonly string[]) => string,
  path: readonly string[] = [],
): unknown {
  if (typeof value === 'string') return change(value, path);
  if (Array.isArray(value)) return value.map((item: unknown) => mapTexts(item, change, path));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, member]) => [name, mapTexts(member, change, [...path, name])]),
  );
}

const PATIENT_ID = /^(.*\/)?([^/]+)$/;

/** Ids and references renamed alike, so that everything still hangs together. */
export function withMarkedIds(call: HookCall): HookCall {
  return mapTexts(call, (text, path) => {
    const name = path.at(-1) ?? '';
    if (name === 'id' || name === 'patientId') return `${MARKER}${text}`;
    if (name === 'reference' || name === 'fullUrl' || name === 'userId')
      return text.replace(
        PATIENT_ID,
        (_all, base: string | undefined, id: string) => `${base ?? ''}${MARKER}${id}`,
      );
    return text;
  }) as HookCall;
}

/** Texts for people in every object of the resources: names, displays, notes, narratives, telephone numbers. */
export function withMarkedTexts(call: HookCall): HookCall {
  const add = (value: unknown): unknown => {
    if (Array.isArray(value)) return value.map(add);
    if (typeof value !== 'object' || value === null) return value;
    const members = Object.entries(value).map(([name, member]) => [name, add(member)] as const);
    const texts = { display: MARKER, note: [{ text: MARKER }], unit: MARKER };
    const isResource = 'resourceType' in value && value.resourceType !== 'Bundle';
    const person = {
      name: [{ family: MARKER, given: [MARKER] }],
      telecom: [{ value: MARKER }],
      address: [{ line: [MARKER] }],
      identifier: [{ system: MARKER, value: MARKER }],
      text: { status: 'generated', div: `<div>${MARKER}</div>` },
    };
    return { ...texts, ...(isResource && person), ...Object.fromEntries(members) };
  };
  return {
    ...call,
    context: {
      ...call.context,
      draftOrders: add(call.context['draftOrders']),
      appointments: add(call.context['appointments']),
    },
    prefetch: add(call.prefetch) as HookCall['prefetch'],
  };
}
