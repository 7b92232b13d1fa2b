import type { Threat, ThreatModel } from './threat-schema.js';

/** The threat model as a page to read: every threat with what holds it, the tests of that, and what remains. */
export function threatsPage({ title, note, assets, boundaries, sources }: ThreatModel): string {
  return [
    `# ${title}`,
    '',
    'Generated from `threats.json` by `npm run threats`; do not edit.',
    '',
    note,
    '',
    '## What is worth attacking',
    '',
    ...assets.map((asset) => `- ${asset}`),
    '',
    '## Where trust ends',
    '',
    ...boundaries.map((boundary) => `- ${boundary}`),
    ...sources.flatMap(({ name, about, threats }) => [
      '',
      `## ${name}`,
      '',
      about,
      ...threats.flatMap(threatLines),
    ]),
    '',
  ].join('\n');
}

function threatLines({ id, name, here, controls, remains }: Threat): readonly string[] {
  return [
    '',
    `### ${id} ${name}`,
    '',
    `- Here: ${here}`,
    ...controls.flatMap(({ says, tests }) => [
      `- **Control.** ${says}`,
      ...tests.map((test) => `  - \`${test.file}\`: ${quoted(test.name)}`),
    ]),
    `- **Remains.** ${remains}`,
  ];
}

/** A title may hold what Markdown takes for a mark of its own. */
function quoted(name: string): string {
  return name.includes('`') ? `\`\` ${name} \`\`` : `\`${name}\``;
}
