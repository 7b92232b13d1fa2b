import type { Answer, Expectation, Reading } from './reading.js';
import type { Place, ToldPatient, ToldResult } from './told-of-patient.js';

/** A line of the reasoning and where it was found; without it, why not. */
export interface Compared {
  readonly expectation: Expectation;
  readonly found: readonly Found[];
  /** What is wrong: words not found, a card where silence was expected, a gap that is none any more. */
  readonly faults: readonly string[];
}

interface Found {
  readonly answer: Answer;
  readonly result: ToldResult;
  readonly line: string;
}

/** Sets the reasoning expected beside what is told of the patients. */
export function compare({ expected }: Reading, patients: readonly ToldPatient[]): readonly Compared[] {
  return expected.map((expectation) => {
    if ('gap' in expectation) {
      const closed = patients.flatMap(({ name, results }) =>
        results
          .filter(({ place }) => place === 'card' || place === 'page')
          .filter(({ lines }) => lines.some((line) => line.includes(expectation.wouldSay)))
          .map(({ rule }) => `${rule} says "${expectation.wouldSay}" of ${name}: no gap any more`),
      );
      return { expectation, found: [], faults: closed };
    }
    if ('silence' in expectation) {
      const loud = patients
        .filter(({ name }) => expectation.silence.includes(name))
        .flatMap((patient) => cardsAt(expectation.at, patient));
      const missing = expectation.silence.filter((name) => !patients.some((one) => one.name === name));
      return { expectation, found: [], faults: [...loud, ...missing.map((name) => `no patient ${name}`)] };
    }
    if ('unsaid' in expectation) {
      return {
        expectation,
        found: [],
        faults: expectation.unsaid.flatMap((one) => saidOnCard(one, patients)),
      };
    }
    const found = expectation.answers.flatMap((answer) => find(answer, patients) ?? []);
    const lost = expectation.answers.filter((answer) => !found.some((one) => one.answer === answer));
    const faults = lost.map(
      ({ patient, rule, says }) => `${patient}: ${rule} does not say "${says}" any more`,
    );
    return { expectation, found, faults };
  });
}

function cardsAt(at: string | undefined, { name, results }: ToldPatient): readonly string[] {
  return results
    .filter(({ place, hook }) => place === 'card' && (at === undefined || hook === at))
    .map(({ rule }) => `${name}: a card of ${rule}`);
}

function saidOnCard(
  {
    patient,
    rule,
    says,
  }: { readonly patient: string; readonly rule?: string | undefined; readonly says: string },
  patients: readonly ToldPatient[],
): readonly string[] {
  const told = patients.find(({ name }) => name === patient);
  if (!told) return [`no patient ${patient}`];
  return told.results
    .filter((one) => one.place === 'card' && (rule === undefined || one.rule === rule))
    .filter(({ lines }) => lines.some((line) => line.includes(says)))
    .map((one) => `${patient}: a card of ${one.rule} says "${says}"`);
}

function find(answer: Answer, patients: readonly ToldPatient[]): Found | undefined {
  const told = patients.find(({ name }) => name === answer.patient)?.results ?? [];
  for (const result of told) {
    if (result.rule !== answer.rule) continue;
    const line = result.lines.find((one) => one.includes(answer.says));
    if (line !== undefined) return { answer, result, line };
  }
  return undefined;
}

/** The reader's page: expected and got side by side, then everything told of each patient. */
export function readingPage(reading: Reading, patients: readonly ToldPatient[]): string {
  const compared = compare(reading, patients);
  const gaps = compared.flatMap(({ expectation }) => ('gap' in expectation ? [expectation] : []));
  return [
    `# ${reading.title}`,
    '',
    `${reading.plan} The left column was written by hand (\`${reading.id}.json\`) from the clinical decisions and the evidence, by someone who ${reading.blind === true ? 'had not read the rules' : 'knew some texts of the rules'}, and by no surgeon; the right one is what the rules tell, written by \`npm run readers\`.`,
    '',
    '| | expected of a careful surgeon | got |',
    '| --- | --- | --- |',
    ...compared.map((one, index) => `| ${index + 1} | ${cell(one.expectation.expects)} | ${gotText(one)} |`),
    '',
    gaps.length === 0
      ? 'No gap: everything expected is told.'
      : `Gaps: ${gaps.length} of ${compared.length}.`,
    '',
    ...patients.flatMap(patientLines),
  ].join('\n');
}

function gotText({ expectation, found }: Compared): string {
  if ('gap' in expectation) return `**gap**: ${cell(expectation.gap)}`;
  if ('silence' in expectation)
    return `no card at ${expectation.at ?? 'any hook'} (${expectation.silence.join(', ')})`;
  if ('unsaid' in expectation)
    return expectation.unsaid
      .map(({ patient, rule, says }) => `no card says “${cell(says)}” (${rule ?? 'any rule'}, ${patient})`)
      .join('<br>');
  return found
    .map(({ answer, result, line }) => {
      const where = `${WHERE[result.place]} ${answer.rule}, ${answer.patient}`;
      return `${cell(partOf(line, answer.says))} (${where})`;
    })
    .join('<br>');
}

const WHERE = {
  card: 'card',
  page: 'page',
  kept: 'listed, behind another card',
  'cannot-tell': 'listed',
  'does-not-fire': 'listed',
} as const satisfies Record<Place, string>;

/** The parts of a line, between the separators of a card, that hold the words. */
function partOf(line: string, says: string): string {
  const parts = line
    .replace(/^(?:Found|Options|To check|Sure|Not known|Before surgery): /, '')
    .split(/; | · /);
  return parts.find((part) => part.includes(says)) ?? says;
}

function cell(text: string): string {
  return text.replaceAll('|', '\\|');
}

function patientLines({ name, teaches, results }: ToldPatient): readonly string[] {
  const cards = results.filter(({ place }) => place === 'card');
  const page = results.filter(({ place }) => place === 'page');
  const open = results.filter(({ place }) => place === 'cannot-tell').map(({ rule }) => rule);
  return [
    `## ${name}`,
    '',
    teaches,
    '',
    ...(cards.length === 0 ? ['No card at any hook.', ''] : cards.flatMap(resultLines)),
    ...(page.length === 0 ? [] : ['On the page only:', '', ...page.flatMap(resultLines)]),
    ...(open.length === 0 ? [] : [`Cannot tell, without a card: ${open.join(', ')}.`, '']),
  ];
}

function resultLines({ rule, hook, lines: [summary = '', ...lines] }: ToldResult): readonly string[] {
  return [`**${summary}** (${rule}, ${hook})`, '', ...lines.map((line) => `- ${line}`), ''];
}
