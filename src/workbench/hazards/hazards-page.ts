import type { Control, Hazard, HazardLog } from '../../rulebook/hazard-schema.js';

/** The hazard log as a page to read: what is open comes first, then every hazard with its controls and their tests. */
export function hazardsPage(log: HazardLog): string {
  const count = (status: Hazard['status']): number =>
    log.hazards.filter((one) => one.status === status).length;
  const left = log.hazards.filter(({ remains }) => remains !== undefined);
  return [
    `# ${log.title}`,
    '',
    'Generated from `hazards.json`; do not edit.',
    '',
    log.note,
    '',
    `${log.hazards.length} hazards: ${count('open')} open, ${count('watched')} watched, ${count('controlled')} controlled. Ratings are proposals: severity × likelihood → risk, before and after the controls.`,
    '',
    '## What is left to do',
    '',
    '| id | status | risk | what is left |',
    '| --- | --- | --- | --- |',
    ...[...left].sort(byUrgency).map(leftRow),
    '',
    '## Hazards',
    ...log.hazards.flatMap(hazardLines),
    '',
  ].join('\n');
}

const URGENCY = { open: 0, watched: 1, controlled: 2 } as const;

function byUrgency(a: Hazard, b: Hazard): number {
  return URGENCY[a.status] - URGENCY[b.status] || b.after.risk - a.after.risk;
}

function leftRow({ id, hazard, status, after, remains = '' }: Hazard): string {
  return `| ${id} ${cell(hazard)} | ${status} | ${after.risk} | ${cell(remains)} |`;
}

function cell(text: string): string {
  return text.replaceAll('|', '\\|');
}

function hazardLines(hazard: Hazard): readonly string[] {
  const { id, cause, sequence, harm, before, after, controls, status, owner, review } = hazard;
  return [
    '',
    `### ${id} ${hazard.hazard}`,
    '',
    `- Cause: ${cause}`,
    `- Leads to: ${sequence}`,
    `- Harm: ${harm}`,
    `- Risk: ${ratingText(before)} before, ${ratingText(after)} after; ${status}`,
    `- Owner: ${owner}; review: ${review.state === 'draft' ? 'draft, reviewed by nobody yet' : `${review.by.join(', ')}, ${review.on}`}`,
    ...(hazard.remains === undefined ? [] : [`- Left to do: ${hazard.remains}`]),
    '',
    ...controls.flatMap(controlLines),
  ];
}

function ratingText({ severity, likelihood, risk }: Hazard['before']): string {
  return `${severity} × ${likelihood} = ${risk}`;
}

const LETTER = { design: 'D', protective: 'P', information: 'I' } as const;

function controlLines(control: Control): readonly string[] {
  const head = `- **${LETTER[control.kind]}** ${control.says}`;
  switch (control.state) {
    case 'planned':
      return [`${head} _Planned; not there yet._`];
    case 'untested':
      return [`${head} _No test: ${control.why}_`];
    case 'tested':
      return [head, ...control.tests.map(({ file, name }) => `  - \`${file}\`: ${plain(name)}`)];
  }
}

/** A title may hold what Markdown takes for a mark of its own. */
function plain(name: string): string {
  return name.includes('`') ? `\`\` ${name} \`\`` : `\`${name}\``;
}
