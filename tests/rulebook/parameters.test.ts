import { describe, expect, it } from 'vitest';
import type { Condition } from '../../src/rulebook/types.js';
import { evidenceParameters, recordNamed, records } from './evidence.js';
import { shipped, shippedPack } from './shipped.js';

const parameters = [...shipped.parameters.values()];
const inEvidence = parameters.flatMap((parameter) => {
  const entry = evidenceParameters.get(parameter.id);
  return entry ? [[parameter.id, parameter, entry] as const] : [];
});
const ours = parameters.filter(({ id }) => !evidenceParameters.has(id));

/** Values that stand in the rulebook in another shape than in the dossier, with the reason. */
const RESHAPED: Readonly<
  Record<string, { readonly why: string; readonly shape: (value: unknown) => unknown }>
> = {
  'head-36-vs-28-trial': {
    why: 'all hips only; the primary ones are not quoted',
    shape: (value) => {
      return Object.fromEntries(Object.entries(value as object).filter(([name]) => name !== 'primary'));
    },
  },
  'leg-lengthening-effects': {
    why: 'limping alone; the two other endpoints are not quoted',
    shape: (value) => {
      const [limp, low, high] = (value as { readonly limp: readonly number[] }).limp;
      return { limp, ci95: [low, high] };
    },
  },
  'prior-revisions': {
    why: 'two or more revisions only',
    shape: (value) => {
      const [or, low, high] = (value as { readonly twoOrMore: readonly number[] }).twoOrMore;
      return { or, ci95: [low, high] };
    },
  },
  'dual-mobility-failure-modes': {
    why: 'only where it was used for recurrent dislocation',
    shape: (value) =>
      Object.fromEntries(
        Object.entries(value as Readonly<Record<string, { readonly recurrent: number }>>).map(
          ([name, { recurrent }]) => [name, recurrent],
        ),
      ),
  },
  'lumbar-fusion-levels': {
    why: 'the rates as printed; ratios computed from them are not quoted',
    shape: (value) =>
      Object.fromEntries(Object.entries(value as object).filter(([name]) => name !== 'crudeRatio')),
  },
  'head-diameter-small-effect': {
    why: 'ratio and interval of each approach side by side',
    shape: (value) => {
      const { posterior, lateral } = value as Readonly<
        Record<'posterior' | 'lateral', { readonly hr: number; readonly ci95: readonly number[] }>
      >;
      return {
        posteriorHr: posterior.hr,
        posteriorCi95: posterior.ci95,
        lateralHr: lateral.hr,
        lateralCi95: lateral.ci95,
      };
    },
  },
  'head-size-revision-rate-register': {
    why: 'rate and interval of each head side by side',
    shape: (value) => {
      const rates = Object.entries(value as Readonly<Record<string, readonly number[]>>);
      return Object.fromEntries<unknown>(
        rates.flatMap(([name, [pct, ...ci95]]) => {
          const head = `p${name.replace('Pct', '')}`;
          return [
            [`${head}Pct`, pct],
            [`${head}Ci95`, ci95],
          ] as const;
        }),
      );
    },
  },
  'dual-mobility-vs-large-head': {
    why: 'the subgroup of smaller cups on one level, to be quoted by name',
    shape: (value) => {
      const { cupUnder58, ...all } = value as {
        readonly cupUnder58: { readonly hr: number; readonly ci95: unknown };
      };
      return { ...all, under58Hr: cupUnder58.hr, under58Ci95: cupUnder58.ci95 };
    },
  },
  'dual-mobility-long-neck': {
    why: 'events and hips as numbers',
    shape: (value) => {
      const { intraprosthetic, covered } = value as Readonly<Record<'intraprosthetic' | 'covered', string>>;
      const [uncoveredEvents, uncovered] = intraprosthetic.split('/').map(Number);
      const [coveredEvents, coveredHips] = covered.split('/').map(Number);
      return { uncoveredEvents, uncovered, coveredEvents, covered: coveredHips };
    },
  },
  'dual-mobility-fracture-register': {
    why: 'revision for dislocation alone; the rule tells revision for any reason itself',
    shape: (value) => {
      const { hr, ci95 } = value as { readonly hr: number; readonly ci95: unknown };
      return { hr, ci95 };
    },
  },
  'dual-mobility-vs-hemiarthroplasty': {
    why: 'dislocation alone; the rule tells reoperation itself',
    shape: (value) => {
      const { or, ci95 } = value as { readonly or: number; readonly ci95: unknown };
      return { or, ci95 };
    },
  },
  'metal-debris-revision-dislocation': {
    why: 'events and hips as numbers',
    shape: (value) => {
      const { pct, events } = value as { readonly pct: number; readonly events: string };
      const [dislocated, hips] = events.split('/').map(Number);
      return { pct, events: dislocated, hips };
    },
  },
  'motion-set-four-pose-v1': {
    why: 'the poses alone, each with a name for the reader',
    shape: (value) => (value as { readonly poses: unknown }).poses,
  },
};

// Truth throughout: published, the parameters of the evidence dossier.
describe('a parameter', () => {
  it('is for the most part one of the dossier', () => {
    expect(inEvidence.length).toBeGreaterThan(70);
  });

  it.each(inEvidence)('%s has the value, unit and certainty of the dossier', (id, parameter, entry) => {
    const reshaped = RESHAPED[id];
    const value = reshaped ? reshaped.shape(entry.value) : entry.value;
    if (id.startsWith('motion-set-')) expect(parameter.value).toMatchObject(value as object);
    else expect(parameter.value).toEqual(value);
    expect(parameter.unit).toBe(entry.unit);
    expect(parameter.certainty).toBe(entry.certainty);
  });

  it.each(inEvidence)('%s says that it was read as far as the dossier does', (_id, parameter, entry) => {
    const readAt = entry.read_at === 'proposal (clinical.md)' ? 'proposal, no source' : entry.read_at;
    expect(parameter.readAt).toBe(readAt);
  });

  it.each(inEvidence)('%s is used as the dossier allows', (_id, parameter, entry) => {
    expect(entry.rulebook_use).not.toBe('do not use');
    if (entry.rulebook_use === 'quoted only') expect(parameter.use).toBe('quoted');
  });

  it.each(inEvidence)(
    '%s rests on no record that the dossier does not name for it',
    (_id, parameter, entry) => {
      expect(entry.records).toEqual(expect.arrayContaining([...parameter.records]));
    },
  );

  it('that the dossier does not have is marked as ours: derived, proposed or common practice', () => {
    const unmarked = ours.filter(
      ({ readAt }) =>
        readAt !== 'derived here' &&
        readAt !== 'proposal, no source' &&
        readAt !== 'common practice, no source',
    );
    // The head center of the dossier's liner-geometry-default, under a name of its own.
    expect(unmarked.map(({ id }) => id)).toEqual(['head-center-offset-default']);
    const geometry = evidenceParameters.get('liner-geometry-default');
    const center = shipped.parameters.get('head-center-offset-default');
    expect(geometry?.value).toMatchObject({ headCentreOffsetMm: center?.value });
    expect([center?.certainty, center?.readAt]).toEqual([geometry?.certainty, geometry?.read_at]);
  });

  it('that is derived follows from what it is derived from', () => {
    // Truth: closed form; 2.37 = 1/cos(65 degrees), rounded; the centers are those of 30-50 and 5-25 (zone-lewinnek).
    const value = (id: string): unknown => shipped.parameters.get(id)?.value;
    expect(value('head-neck-ratio-preferred')).toBe(Number((1 / Math.cos((65 * Math.PI) / 180)).toFixed(2)));
    expect(value('cup-inclination-classical-center')).toBe((30 + 50) / 2);
    expect(value('cup-anteversion-classical-center')).toBe((5 + 25) / 2);
    expect(recordNamed('zone-lewinnek').claim).toMatch(/(30|40)/);
  });

  it('that proposes a measuring band has the figures of the clinical decisions', () => {
    // Truth: clinician: AP-film anteversion 5, inclination 2, CT 2 degrees.
    const band = (id: string): unknown => shipped.parameters.get(`measuring-band-${id}`)?.value;
    expect([band('film-anteversion'), band('film-inclination'), band('ct')]).toEqual([5, 2, 2]);
  });

  it('that spans the published ranges is the union clinical decisions §3 states', () => {
    // Truth: clinician: union RI 30 to 58, RA 5 to 34; above 50 up to 58 is a rule of its own.
    const value = (id: string): unknown => shipped.parameters.get(id)?.value;
    expect([value('cup-inclination-published-low'), value('cup-inclination-published-high')]).toEqual([
      30, 58,
    ]);
    expect([value('cup-anteversion-published-low'), value('cup-anteversion-published-high')]).toEqual([
      5, 34,
    ]);
    expect(value('cup-inclination-upper-limit')).toBe(50);
  });

  it('of combined version is the union of the ranges its records give for that approach', () => {
    // Truth: published, combined-anteversion-range-posterior and -lateral, and the record with the higher range.
    const value = (id: string): unknown => shipped.parameters.get(`combined-anteversion-${id}`)?.value;
    const [low, high] = evidenceParameters.get('combined-anteversion-range-posterior')
      ?.value as readonly number[];
    const [, other] = (
      recordNamed('combined-anteversion-jolles')['value'] as { readonly range: readonly number[] }
    ).range;
    expect(value('posterior-low')).toBe(low);
    expect(value('posterior-high')).toBe(Math.max(high ?? NaN, other ?? NaN));
    expect([value('lateral-low'), value('lateral-high')]).toEqual(
      evidenceParameters.get('combined-anteversion-range-lateral')?.value,
    );
  });

  it('of lost offset and of a hypermobile pelvis is the published one, with its sign or as one number', () => {
    // Truth: published, global-offset-loss-limit and pelvic-tilt-change-classes; clinician: from -13 to -10 the same options.
    const value = (id: string): unknown => shipped.parameters.get(id)?.value;
    expect(value('global-offset-difference-low')).toBe(
      -(evidenceParameters.get('global-offset-loss-limit')?.value as number),
    );
    expect(evidenceParameters.get('pelvic-tilt-change-classes')?.value).toMatchObject({
      hypermobileAbove: value('spinopelvic-mobility-hypermobile'),
    });
    expect(value('pelvic-tilt-standing-no-added-version')).toBe(-10);
    // Clinician: after a posterior approach no option lowers anteversion when it is 20 or less.
    expect(value('cup-anteversion-posterior-keep')).toBe(20);
  });

  it('that is only quoted decides nothing: no condition, no limit of a fact, no default, no input of a computed number', () => {
    const quoted = new Set(parameters.filter(({ use }) => use === 'quoted').map(({ id }) => id));
    expect(quoted.size).toBeGreaterThan(5);
    const deciding = shippedPack.files
      .filter(({ path }) => /^(advisories|facts|computations|conditions)\//.test(path))
      .flatMap(({ content }) => references(content));
    expect(deciding.length).toBeGreaterThan(50);
    expect(deciding.filter((id) => quoted.has(id))).toEqual([]);
    expect(
      shipped.rules
        .flatMap((rule) => [...limits(rule.when), ...limits(rule.appliesWhen)])
        .filter((id) => quoted.has(id)),
    ).toEqual([]);
  });

  it('that was read in a source is cited by citations that stand on its records', () => {
    for (const { id, citations, records: named } of parameters.filter(
      ({ citations }) => citations.length > 0,
    )) {
      const behind = citations.map((key) => shipped.citations.get(key)?.records ?? []);
      for (const [index, list] of behind.entries()) {
        expect(
          list.some((record) => named.includes(record)),
          `${id}: ${String(citations[index])}`,
        ).toBe(true);
      }
    }
  });

  it('of a source names records that are all at hand', () => {
    const cited = parameters.filter(({ citations }) => citations.length > 0);
    const missing = cited.flatMap(({ id, records: named }) =>
      named.filter((record) => !records.has(record)).map((record) => `${id}: ${record}`),
    );
    expect(missing).toEqual([]);
  });

  it('of every kind is used', () => {
    // Truth: style of the project, §7: loading checks that parameters are used and defined.
    const words = JSON.stringify(
      shippedPack.files
        .filter(({ path }) => !path.startsWith('citations/'))
        .map(({ path, content }) => (path.startsWith('computations/') && isGroup(content) ? null : content)),
    );
    const unused = parameters
      .map(({ id }) => id)
      .filter((id) => !words.includes(`"${id}"`) && !words.includes(`{${id}`));
    expect(unused).toEqual([]);
  });
});

/** Every `{ "parameter": … }` of a file, without the figures that effects only quote. */
function references(content: unknown): readonly string[] {
  if (Array.isArray(content)) return content.flatMap(references);
  if (typeof content !== 'object' || content === null) return [];
  return Object.entries(content).flatMap(([name, value]) => {
    if (name === 'effects') return [];
    return name === 'parameter' && typeof value === 'string' ? [value] : references(value);
  });
}

function limits(condition: Condition): readonly string[] {
  if (condition.kind === 'leaf')
    return condition.limit.parameter === undefined ? [] : [condition.limit.parameter];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(limits);
}

function isGroup(content: unknown): boolean {
  return (
    typeof content === 'object' && content !== null && 'kind' in content && content.kind === 'parameters'
  );
}
