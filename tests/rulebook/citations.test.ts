import { describe, expect, it } from 'vitest';
import { BIBLIOGRAPHY, valuesRead } from '../../src/workbench/check/evidence.js';
import { recordNamed, records } from './evidence.js';
import { shipped } from './shipped.js';

const citations = [...shipped.citations.values()];

// Truth throughout: published, the bibliography as the evidence records have it; a null field stays null, never guessed.
describe('a citation', () => {
  it.each(citations.map((citation) => [citation.id, citation] as const))(
    '%s names records that exist, and no record that was only recalled',
    (_id, citation) => {
      for (const id of citation.records) {
        expect(records.has(id), id).toBe(true);
        expect(recordNamed(id).verified, id).toMatch(/^(full text|abstract|secondary source)$/);
      }
    },
  );

  it.each(
    citations.flatMap((citation) => BIBLIOGRAPHY.map((field) => [citation.id, field, citation] as const)),
  )('%s has the %s of its records, or none where they have none', (_id, field, citation) => {
    const values = valuesRead(citation, field, records);
    if (values.length === 0) expect(citation[field]).toBeNull();
    else expect(values).toContain(citation[field]);
  });

  it('does not take over a title that its record marks as recalled', () => {
    const isRecalled = (id: string): boolean => /from memory/.test(recordNamed(id).citation.title ?? '');
    const marked = citations.filter(({ records: ids }) => ids.some(isRecalled));
    expect(marked.map(({ id }) => id)).toContain('abdel-2016');
    for (const { title, records: ids } of marked) {
      const read = ids.filter((id) => !isRecalled(id)).map((id) => recordNamed(id).citation.title);
      expect([...read, null]).toContain(title);
    }
  });

  it('says that it was read as far as its records were, no further', () => {
    const order = ['secondary source', 'abstract', 'full text'];
    for (const citation of citations) {
      const farthest = Math.max(...citation.records.map((id) => order.indexOf(recordNamed(id).verified)));
      expect(order.indexOf(citation.readAt), citation.id).toBeLessThanOrEqual(farthest);
      expect(order, citation.id).toContain(citation.readAt);
    }
  });

  it('stands for one source: no DOI, PMID or PMCID is cited twice, and no record stands behind two', () => {
    // Truth: clinical decisions §9: one study never counts twice: merge by DOI or PMID.
    const ids = citations.flatMap(({ doi, pmid, pmcid }) => [doi, pmid, pmcid].filter((id) => id !== null));
    expect(ids.length).toBe(new Set(ids).size);
    const named = citations.flatMap((citation) => citation.records);
    expect(named.length).toBe(new Set(named).size);
  });

  it('has identifiers in the form of their registries', () => {
    // Truth: published, DOI handbook (10.prefix/suffix), PubMed (digits), PubMed Central (PMC and digits).
    for (const { id, doi, pmid, pmcid } of citations) {
      if (doi !== null) expect(doi, id).toMatch(/^10\.\d{4,9}\/\S+$/);
      if (pmid !== null) expect(pmid, id).toMatch(/^\d{7,8}$/);
      if (pmcid !== null) expect(pmcid, id).toMatch(/^PMC\d{6,8}$/);
    }
  });

  it('is used by a rule, an effect, a parameter or a computation', () => {
    // Truth: closed form; a source that supports nothing on any card is no source of this rulebook.
    const used = new Set([
      ...shipped.rules.flatMap((rule) => [
        ...(rule.citations ?? []).map(({ key }) => key),
        ...(rule.effects ?? []).flatMap((effect) => effect.citations),
      ]),
      ...[...shipped.parameters.values()].flatMap((parameter) => parameter.citations),
      ...[...shipped.computations.values()].flatMap((computation) => computation.citations),
    ]);
    expect(citations.map(({ id }) => id).filter((id) => !used.has(id))).toEqual([]);
  });

  it('has a short name of its own, with its year where that is known', () => {
    // Truth: closed form; two sources under one short name could not be told apart on a card.
    expect(new Set(citations.map(({ short }) => short)).size).toBe(citations.length);
    for (const { id, short, year } of citations) if (year !== null) expect(short, id).toContain(String(year));
  });
});
