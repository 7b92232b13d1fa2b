import type { Rulebook } from '../../rulebook/types.js';

/** A source as a bibliography names it, with what is not known left out; titles and names as the evidence has them. */
export function fullReference(key: string, { citations }: Rulebook): string {
  const citation = citations.get(key);
  if (!citation) return key;
  const { short, authors, title, journal, year, volume, pages, doi, pmid, pmcid } = citation;
  const place = [
    ...(year === null ? [] : [String(year)]),
    ...(volume === null ? [] : [pages === null ? volume : `${volume}:${pages}`]),
  ].join(';');
  const parts = [
    ...(authors === null ? [] : [authors]),
    ...(title === null ? [] : [title]),
    ...(journal === null ? [] : [journal]),
    ...(place === '' ? [] : [place]),
    ...(doi === null ? [] : [`doi:${doi}`]),
    ...(pmid === null ? [] : [`PMID ${pmid}`]),
    ...(pmcid === null ? [] : [pmcid]),
  ];
  const text = parts.map((part) => part.replace(/\.$/, '')).join('. ');
  return authors === null && title === null ? `${short}: ${text}` : text;
}
