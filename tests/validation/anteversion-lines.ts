import { z } from 'zod';
import { degrees } from '../../src/base/units.js';
import { combinedAnteversion } from '../../src/biomechanics/orientation/combined-anteversion.js';
import {
  radiographicToAnatomic,
  radiographicToOperative,
} from '../../src/biomechanics/orientation/cup-orientation.js';
import { publishedAnteversionLines } from '../biomechanics/published-anteversion-lines.js';
import { radiographicCup } from '../biomechanics/tilted-cup.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared, oursAlone } from './rows.js';
import type { Section } from './section.js';

const ANY = { inputs: z.unknown(), expected: z.unknown() };

/** Whose line it is, and what was not read of it. */
function sourceOfLine(paper: string) {
  if (paper.startsWith('Widmer')) {
    return {
      record: workedExample('combined-anteversion', 'combined-anteversion-37-3', ANY),
      guessed: 'both rotations asked for with the leg straight, inclination 42.5, order of rotations',
    };
  }
  if (paper.startsWith('parametric')) {
    return {
      record: workedExample('optimum-anteversion', 'operative-anteversion-2012', ANY),
      guessed: 'every target, and operative inclination 40: the abstract names the set and no angle',
    };
  }
  return {
    record: workedExample('optimum-anteversion', 'optimum-anteversion-84-3', ANY),
    guessed:
      'external rotation asked for with the leg straight, order of rotations, the reading of cup abduction',
  };
}

function lines(): readonly Row[] {
  return publishedAnteversionLines().flatMap(({ paper, published, ours, furthestApart, note }) => {
    const { record, guessed } = sourceOfLine(paper);
    const shared = { guessed, remark: note };
    const steepness = `${note} ${isUnsigned(paper) ? UNSIGNED : ''}In every reading a degree of stem is worth more cup in ours than the papers say.`;
    return [
      compared(record, {
        what: `${paper}: cup anteversion per degree of stem version`,
        unit: '1',
        reference: printed(published.slope),
        ours: value(ours.slope),
        decimals: 3,
        guessed,
        remark: steepness,
      }),
      compared(record, {
        what: `${paper}: cup anteversion for a stem at 0`,
        unit: 'deg',
        reference: printed(published.intercept, { decimals: decimalsRead(published.intercept) }),
        ours: value(ours.intercept),
        decimals: 2,
        ...shared,
      }),
      compared(record, {
        what: `${paper}: cup anteversion for a stem at ${furthestApart.stem}, where ours and the line are furthest apart from 0 to 30`,
        unit: 'deg',
        reference: printed(furthestApart.published, { decimals: 1 }),
        ours: value(furthestApart.ours),
        ...shared,
      }),
    ];
  });
}

const UNSIGNED =
  'The abstract prints this slope without its minus sign; its text calls the relation negative. ';

function isUnsigned(paper: string): boolean {
  return paper === 'parametric model 2012, normal targets';
}

/** Intercepts come out of sums in doubles; a line is printed with at most three decimals. */
function decimalsRead(intercept: number): number {
  return (String(Number(intercept.toFixed(3))).split('.')[1] ?? '').length;
}

function threeSums(): readonly Row[] {
  const cup = radiographicCup(40, 20);
  return [cup, radiographicToOperative(cup), radiographicToAnatomic(cup)].map((stated) => {
    const { cupDefinition, sum } = combinedAnteversion(stated, degrees(15));
    return oursAlone({
      what: `combined anteversion of a cup at 40/20 radiographic with a stem at 15, the cup taken as ${cupDefinition}`,
      unit: 'deg',
      ours: value(sum),
      decimals: 1,
      remark: 'One hip, three sums: a published range means nothing without its definition.',
    });
  });
}

export function anteversionLines(): Section {
  return {
    title: 'Combined anteversion: published lines beside our optimum',
    paragraphs: [
      'Three papers print a line for the best cup anteversion over stem version. Ours is the anteversion at which the worst of the asked motions has most left, for each stem from 0 to 30 degrees, with a straight line fitted through it. Nothing is fitted to the papers, and no tolerance is used: those of the records were set after a search of their own. Neck-shaft angle 135 throughout.',
      'One line is set beside several readings of its own targets and definitions, because the abstract leaves them open: those rows are alternatives, and not all of them can be right.',
    ],
    rows: [...lines(), ...threeSums()],
  };
}
