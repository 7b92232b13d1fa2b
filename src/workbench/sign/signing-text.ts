import { SERVICES, siteServiceId } from '../../advice/index.js';
import { governance } from '../../rulebook/governance-report.js';
import type { Governance, Installed } from '../../rulebook/governance-report.js';
import { stateOf } from '../../rulebook/governance.js';
import type { Stated } from '../../rulebook/governance.js';
import type { Approval, RuleSettings } from '../../rulebook/governance-schema.js';

/** What a signature says, for whoever gives it and for programs. */
export interface Signing {
  /** The installation as it will stand once signed, in production. */
  readonly governance: Governance;
  /** Rules that will show cards, and those that will not though they could, for each entry. */
  readonly entries: readonly {
    readonly service: string;
    readonly hook: string;
    readonly speak: readonly string[];
    readonly silent: readonly string[];
    readonly off: readonly string[];
  }[];
  readonly added: readonly Approval[];
}

/** What will hold in production from that day on, with these approvals added. */
export function signingOf(
  { rulebook, site }: Required<Installed>,
  added: readonly Approval[],
  now: string,
): Signing {
  const signed = { ...site, approvals: [...site.approvals, ...added] };
  const governed = { rulebook, site: signed, mode: 'production' as const };
  const entries = SERVICES.map((one) => {
    const service = siteServiceId(one);
    const { hook } = one;
    const heard = rulebook.rules.filter(({ entries: at, tells }) => at.includes(hook) && tells !== 'page');
    const inState = (wanted: string): readonly string[] =>
      heard
        .map(({ id }) => id)
        .filter((rule) => stateOf(governed, service, { rule, hook, now }).state === wanted);
    return { service, hook, speak: inState('speak'), silent: inState('silent'), off: inState('off') };
  });
  return { governance: governance({ rulebook, site: signed }, 'production', now), entries, added };
}

/** The same for a person: everything that is signed, in words. */
export function signingText(
  { governance: signed, entries, added }: Signing,
  { rulebook, site }: Required<Installed>,
): string {
  const lines = [
    `installation ${site.id} ${site.version}`,
    `  ${site.hash}`,
    `rulebook ${signed.rulebook.version} (${signed.rulebook.status})`,
    `  ${signed.rulebook.hash}`,
    ...experimentalLines(signed, rulebook.about.developer),
    '',
    'what will speak in production',
    ...entries.map((entry) => entryLine(entry, signed)),
    ...block('set for single rules', [...site.rules].map(ruleLine)),
    ...block('limits of this site', limitLines({ rulebook, site })),
    ...block(
      'worth knowing',
      signed.notices.map(({ path, expected, found }) => `${path}: expected ${expected}, found ${found}`),
    ),
    ...(added.length === 0 ? ['', 'signed already by the same person: nothing to add'] : []),
    ...block(
      'approvals',
      added.map(({ by, role, date, contentHash }) => `${by}, ${role}, ${date}: ${contentHash}`),
    ),
  ];
  return `${lines.join('\n')}\n`;
}

/** Signing takes nothing of it back: whoever signs decides to use a draft, and every card goes on saying so. */
function experimentalLines({ rulebook }: Governance, developer: string): readonly string[] {
  return rulebook.status === 'active'
    ? []
    : [
        `  not signed off by those who wrote it: ${developer}`,
        `  whoever signs takes it into use as it is; every card goes on saying "${rulebook.status}"`,
      ];
}

const WHY: Readonly<Record<Stated['why'], string>> = {
  shipped: '',
  service: ', as set for the service',
  rule: ', as set for its rules',
  hook: ', as set for its rules',
  'not-named': ', as the site does not name the service',
  'not-signed': ', as nobody has signed',
};

function entryLine(
  { service, hook, speak, silent, off }: Signing['entries'][number],
  { services }: Governance,
): string {
  const all = speak.length + silent.length + off.length;
  const quiet = [
    ...(silent.length > 0 && speak.length > 0 ? [`silent: ${silent.join(', ')}`] : []),
    ...(off.length > 0 && speak.length > 0 ? [`off: ${off.join(', ')}`] : []),
  ];
  const why = WHY[services.find((one) => one.service === service)?.why ?? 'shipped'];
  const what =
    speak.length > 0 ? `${speak.length} of ${all} rules` : `${silent.length > 0 ? 'silent' : 'off'}${why}`;
  return `  ${service} at ${hook}: ${[what, ...quiet].join('; ')}`;
}

function ruleLine([rule, settings]: readonly [string, RuleSettings]): string {
  const { state = 'speak', hooks, note, reviewBy, why, by, date, until } = settings;
  const parts = [
    state,
    ...(hooks ? [`only at ${hooks.join(', ')}`] : []),
    ...(note === undefined ? [] : [`note "${note}"`]),
    ...(reviewBy === undefined ? [] : [`review by ${reviewBy}`]),
  ];
  return `${rule}: ${parts.join(', ')}, until ${until} (${why}; ${by}, ${date})`;
}

function limitLines({ rulebook, site }: Required<Installed>): readonly string[] {
  return [...site.parameters].map(([id, { value, unit, why, by, date, until }]) => {
    const { value: shipped, allowed } = rulebook.parameters.get(id) ?? {};
    const interval = allowed ? `, ${allowed.low} to ${allowed.high} allowed` : '';
    const beside = `${typeof shipped === 'number' ? shipped : 'none'} in the rulebook${interval}`;
    return `${id}: ${value} ${unit} here, ${beside}, until ${until} (${why}; ${by}, ${date})`;
  });
}

function block(title: string, lines: readonly string[]): readonly string[] {
  return lines.length === 0 ? [] : ['', title, ...lines.map((line) => `  ${line}`)];
}
