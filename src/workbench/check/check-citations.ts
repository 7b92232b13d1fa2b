import type { Parsed } from '../../rulebook/parse.js';
import type { ParsedPack } from '../../rulebook/parse-pack.js';
import type { Citation } from '../../rulebook/types.js';
import type { Evidence } from './evidence.js';
import { BIBLIOGRAPHY, READ, valuesRead } from './evidence.js';
import { faultsOf } from './finding.js';
import type { Fault, ReportFault } from './finding.js';

/** Whether each source is one source, well-formed, used, and what the records behind it say it is. */
export function checkCitations(parsed: ParsedPack, evidence: Evidence | undefined): readonly Fault[] {
  return faultsOf('citations', (report) => {
    checkIdentifiers(parsed.citations, report);
    checkOnce(parsed.citations, report);
    checkUsed(parsed, report);
    checkPlaces(parsed, report);
    checkParameterRecords(parsed, report);
    if (evidence) for (const citation of parsed.citations) checkAgainst(citation, evidence, report);
  });
}

/** The forms of the registries: DOI handbook, PubMed, PubMed Central. */
const FORMS = {
  doi: { form: /^10\.\d{4,9}\/\S+$/, said: 'a DOI, 10.prefix/suffix' },
  pmid: { form: /^\d{7,8}$/, said: 'a PMID, seven or eight digits' },
  pmcid: { form: /^PMC\d{6,8}$/, said: 'a PMCID, PMC and six to eight digits' },
} as const;
const IDENTIFIERS = ['doi', 'pmid', 'pmcid'] as const;

function checkIdentifiers(citations: readonly Parsed<Citation>[], report: ReportFault): void {
  for (const { file, value } of citations) {
    for (const field of IDENTIFIERS) {
      const id = value[field];
      if (id !== null && !FORMS[field].form.test(id)) report(file, field, FORMS[field].said, id);
    }
    if (value.year !== null && !value.short.includes(String(value.year)))
      report(file, 'short', `a short name with the year ${value.year}`, value.short);
  }
}

/** One study never counts twice: sources are merged by identifier, and no record stands behind two. */
function checkOnce(citations: readonly Parsed<Citation>[], report: ReportFault): void {
  const seen = new Map<string, string>();
  const once = (key: string, { file, path, found }: Record<'file' | 'path' | 'found', string>): void => {
    const first = seen.get(key);
    if (first !== undefined && first !== file) report(file, path, `one that is not in ${first}`, found);
    else seen.set(key, file);
  };
  for (const { file, value } of citations) {
    for (const path of IDENTIFIERS) {
      const found = value[path];
      if (found !== null) once(`${path} ${found.toLowerCase()}`, { file, path, found });
    }
    for (const found of value.records) once(`record ${found}`, { file, path: 'records', found });
    once(`short ${value.short}`, { file, path: 'short', found: value.short });
  }
}

function checkUsed(parsed: ParsedPack, report: ReportFault): void {
  const used = new Set([
    ...parsed.rules.flatMap(({ value }) => [
      ...(value.citations ?? []).map(({ key }) => key),
      ...(value.effects ?? []).flatMap(({ citations }) => citations),
    ]),
    ...parsed.parameters.flatMap(({ value }) => value.citations),
    ...parsed.computations.flatMap(({ value }) => value.citations),
  ]);
  for (const { file, value } of parsed.citations)
    if (!used.has(value.id))
      report(file, 'id', 'a use in a rule, an effect, a parameter or a computation', 'none');
}

/** Where something was read is said in words, not in blanks. */
function checkPlaces(parsed: ParsedPack, report: ReportFault): void {
  for (const { file, value } of parsed.citations) {
    if (value.where.trim() === '') report(file, 'where', 'where in the source it was read', 'blanks');
    if (!READ.some((one) => one === value.readAt)) report(file, 'readAt', READ.join(', '), value.readAt);
  }
  for (const { file, value } of parsed.rules)
    for (const [index, { where, supports }] of (value.citations ?? []).entries()) {
      if (where.trim() === '')
        report(file, `citations[${index}].where`, 'where in the source it was read', 'blanks');
      if (supports.trim() === '') report(file, `citations[${index}].supports`, 'what it supports', 'blanks');
    }
}

/** A parameter cites sources that stand on the records it was taken from. */
function checkParameterRecords(parsed: ParsedPack, report: ReportFault): void {
  const behind = new Map(parsed.citations.map(({ value }) => [value.id, value.records]));
  for (const { file, value } of parsed.parameters)
    for (const [index, key] of value.citations.entries()) {
      const records = behind.get(key);
      if (records && !records.some((record) => value.records.includes(record)))
        report(
          file,
          `parameters.${value.id}.citations[${index}]`,
          `a source that stands on one of ${value.records.join(', ') || 'its records, of which it has none'}`,
          key,
        );
    }
}

function checkAgainst({ file, value }: Parsed<Citation>, evidence: Evidence, report: ReportFault): void {
  for (const [index, id] of value.records.entries()) {
    const verified = evidence.get(id)?.verified;
    if (verified === undefined) report(file, `records[${index}]`, 'a record of the evidence', id);
    else if (!READ.some((one) => one === verified))
      report(file, `records[${index}]`, `a record that was read (${READ.join(', ')})`, verified);
  }
  const known = value.records.flatMap((id) => evidence.get(id) ?? []);
  if (known.length === 0) return;
  for (const field of BIBLIOGRAPHY) {
    const read = valuesRead(value, field, evidence);
    const own = value[field];
    if (read.length === 0 && own !== null)
      report(file, field, 'null, as no record behind it gives one', String(own));
    else if (read.length > 0 && (own === null || !read.includes(own)))
      report(file, field, `${read.join(' or ')}, as in the evidence`, String(own));
  }
  const order = (readAt: string): number => READ.findIndex((one) => one === readAt);
  const farthest = Math.max(...known.map(({ verified }) => order(verified)));
  if (order(value.readAt) > farthest)
    report(file, 'readAt', `${READ[farthest] ?? 'nothing'}, as far as its records were read`, value.readAt);
}
