import type { Html } from '../../render/html.js';
import { markup } from '../../render/html.js';
import { HOOK_TITLES, reasonText } from '../../render/words.js';
import type { UnknownReason } from '../../facts/fact.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import { foundIn } from './fact-counts.js';
import type { FactFigures, Readiness } from './readiness-types.js';
import { shareCell } from './share-cell.js';

const STAGES = ['native', 'planned', 'intraoperative', 'postoperative'] as const;

/** How often the record holds what the rules read, and how the sets it would stand in arrived. */
export function recordSection({ facts, hips, sets }: Readiness): Section {
  const all = hips.planned + hips['in-place'];
  const of = (kind: FactFigures['kind']): readonly FactFigures[] => facts.filter((one) => one.kind === kind);
  return {
    id: 'record',
    title: 'What the record holds',
    body: markup`<p>On ${all} hips, each counted once for a member: ${hips.planned} with a replacement planned, ${hips['in-place']} with one in place.${sidelessText(hips)} What was not found is not recorded, or recorded where nothing looks.</p>
${measuresHtml(of('measure'), all)}
${othersHtml(of('condition'), all, 'Diagnoses and earlier operations')}
${othersHtml(of('observation'), all, 'Laboratory and body measures')}
${setsHtml(sets)}`,
  };
}

function sidelessText({ sideless }: Readiness['hips']): string {
  return sideless === 0
    ? ''
    : ` Besides, the side of ${sideless} is not stated: of these nothing can be known.`;
}

function measuresHtml(facts: readonly FactFigures[], hips: number): Html {
  const met = facts.filter(isMet);
  return markup`${table({
    caption: 'Measures by the stage they were found in',
    columns: ['Measure', 'Found', ...STAGES, 'By map or default', 'Unusable', 'Why unusable'],
    rows: met.map((fact) => [
      fact.title,
      shareCell(foundIn(fact), hips),
      ...STAGES.map((stage) => ({ number: fact.found[stage] ?? 0 })),
      { number: fact.assumed },
      { number: unusableIn(fact) },
      whyUnusable(fact),
    ]),
  })}
${neverMet(facts)}`;
}

/** Whether anything of it was met, usable or not. */
function isMet(fact: FactFigures): boolean {
  return foundIn(fact) > 0 || unusableIn(fact) > 0;
}

function neverMet(facts: readonly FactFigures[]): Html {
  const titles = facts.filter((fact) => !isMet(fact)).map(({ title }) => title);
  return titles.length === 0
    ? markup`<p>Each of them was met at least once.</p>`
    : markup`<p>Met on no hip (${titles.length}): ${titles.join(', ')}.</p>`;
}

function othersHtml(facts: readonly FactFigures[], hips: number, caption: string): Html {
  return markup`${table({
    caption,
    columns: ['What', 'Found', 'Known to be absent', 'Not read', 'Unusable', 'Why unusable'],
    rows: facts
      .filter(isMet)
      .map((fact) => [
        fact.title,
        shareCell(foundIn(fact), hips),
        shareCell(fact.absent, hips),
        shareCell(fact.notRead, hips),
        { number: unusableIn(fact) },
        whyUnusable(fact),
      ]),
  })}
${neverMet(facts)}`;
}

function unusableIn({ unusable }: FactFigures): number {
  return Object.values(unusable).reduce((sum, count) => sum + count, 0);
}

function whyUnusable({ unusable }: FactFigures): string {
  const why = Object.entries(unusable).map(
    ([reason, count]) => `${reasonText(reason as UnknownReason)}: ${count}`,
  );
  return why.length === 0 ? '–' : why.join('; ');
}

function setsHtml(sets: Readiness['sets']): Html {
  if (sets.length === 0) return markup`<p>No call was recognised, so no set was looked at.</p>`;
  return table({
    caption: 'Sets of resources, by how they arrived with recognised calls',
    columns: ['Hook', 'Set', 'Whole', 'In part', 'Not sent', 'Failed'],
    rows: sets.map(({ hook, title, complete, incomplete, absent, failed }) => [
      HOOK_TITLES[hook],
      title,
      { number: complete },
      { number: incomplete },
      { number: absent },
      { number: failed },
    ]),
  });
}
