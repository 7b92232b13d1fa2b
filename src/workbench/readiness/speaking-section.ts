import { SERVICES, siteServiceId } from '../../advice/index.js';
import { Html, markup } from '../../render/html.js';
import { HOOK_TITLES } from '../../render/words.js';
import type { Governance } from '../../rulebook/governance-report.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import type { Readiness } from './readiness-types.js';

const WHY: Readonly<Record<Governance['services'][number]['why'], string>> = {
  shipped: 'as shipped',
  service: 'the site file says so',
  rule: 'the site file says so of the rule',
  hook: 'the site file narrows it to other hooks',
  'not-named': 'not named in the site file',
  'not-signed': 'not signed',
};

/** What would speak once this is signed, within which local limits, and who reads it. */
export function speakingSection({ governance }: Readiness): Section {
  const { now, signed, ceilings, audience } = governance;
  return {
    id: 'speaking',
    title: 'What speaks once this is signed',
    body: markup`<p>The strictest state wins: off is not evaluated, silent is evaluated and recorded and not shown. Today the installation is ${now.signature === 'installation' ? 'signed' : 'not signed, so nothing speaks'}.</p>
${table({
  caption: 'Services in production',
  columns: ['Service', 'Hooks', 'Today', 'Once signed', 'Why'],
  rows: signed.services.map(({ service, state, why }, index) => [
    service,
    SERVICES.filter((one) => siteServiceId(one) === service)
      .map(({ hook }) => HOOK_TITLES[hook])
      .join(', '),
    now.services[index]?.state ?? state,
    state,
    WHY[why],
  ]),
})}
${rulesHtml(signed)}
${limitsHtml(signed)}
${table({
  caption: 'Cards shown at most, critical ones not counted',
  columns: ['Hook', 'Here', 'Shipped'],
  rows: ceilings.map(({ hook, most, shipped }) => [HOOK_TITLES[hook], { number: most }, { number: shipped }]),
})}
<p>Readers: ${audience.length === 0 ? 'whoever calls, as the site lists no roles; at booking the finding and the missing work-up only' : audience.map(({ service, roles }) => `${service}: ${roles.join(', ')}`).join('; ')}.</p>
${noticesHtml(signed)}`,
  };
}

function rulesHtml({ rules }: Governance): Html {
  if (rules.length === 0) return markup`<p>No rule has a setting of its own: all are as shipped.</p>`;
  return table({
    caption: 'Rules with a setting of their own',
    columns: ['Rule', 'State', 'Hooks', 'Until', 'Review by', 'Note'],
    rows: rules.map(({ rule, state, hooks = [], until, reviewBy = '–', note = '–', ended }) => [
      markup`<code>${rule}</code>`,
      state,
      hooks.length === 0 ? 'all' : hooks.join(', '),
      ended ? `${until}, ended` : until,
      reviewBy,
      note,
    ]),
  });
}

function limitsHtml({ parameters }: Governance): Html {
  if (parameters.length === 0) return markup`<p>No limit is the site’s own: all are the rulebook’s.</p>`;
  return table({
    caption: 'Limits of the site’s own',
    columns: ['Limit', 'Here', 'Rulebook', 'Unit', 'Until'],
    rows: parameters.map(({ parameter, value, rulebook, unit, until, ended }) => [
      markup`<code>${parameter}</code>`,
      { number: value },
      { number: rulebook },
      unit,
      ended ? `${until}, ended` : until,
    ]),
  });
}

function noticesHtml({ notices }: Governance): Html {
  if (notices.length === 0) return new Html('');
  return table({
    caption: 'To see to',
    columns: ['Where in the site file', 'Expected', 'Found'],
    rows: notices.map(({ path, expected, found }) => [path, expected, found]),
  });
}
