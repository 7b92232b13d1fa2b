import { applyEdits, modify } from 'jsonc-parser';
import { canonicalJson } from '../../base/canonical-json.js';
import type { Approval } from '../../rulebook/governance-schema.js';
import type { Installed } from '../../rulebook/governance-report.js';

export interface Signatory {
  readonly by: string;
  readonly role: string;
  /** The day of the signature. */
  readonly date: string;
}

/**
 * What a signature under an installation adds: an approval of the whole, and one of its rulebook where nobody has given
 * that yet, so that a later edit of the site leaves a service that starts and keeps silent. Nothing where the same
 * person has signed the same content.
 */
export function approvalsFor(
  { rulebook, site }: Required<Installed>,
  signatory: Signatory,
): readonly Approval[] {
  const { approvals, hash } = site;
  if (approvals.some(({ by, contentHash }) => by === signatory.by && contentHash === hash)) return [];
  const isRulebookSigned = approvals.some(({ contentHash }) => contentHash === rulebook.hash);
  const hashes = isRulebookSigned ? [hash] : [rulebook.hash, hash];
  return hashes.map((contentHash) => ({ ...signatory, contentHash }));
}

/** The text of a site file with more approvals; all other bytes stay as they are. Throws when that can't be done. */
export function withApprovals(text: string, approvals: readonly Approval[]): string {
  const formattingOptions = { ...indentOf(text), eol: text.includes('\r\n') ? '\r\n' : '\n' };
  const signed = approvals.reduce(
    (written, approval) =>
      applyEdits(
        written,
        modify(written, ['approvals', -1], approval, { formattingOptions, isArrayInsertion: true }),
      ),
    text,
  );
  const before = JSON.parse(text) as { readonly approvals?: readonly unknown[] };
  const wanted = { ...before, approvals: [...(before.approvals ?? []), ...approvals] };
  if (canonicalJson(JSON.parse(signed)) !== canonicalJson(wanted))
    throw new Error('the approvals could not be written without changing something else');
  return signed;
}

/** How the text is indented already. */
function indentOf(text: string): { readonly insertSpaces: boolean; readonly tabSize: number } {
  const indent = /\n([ \t]+)"/.exec(text)?.[1] ?? '  ';
  return { insertSpaces: !indent.includes('\t'), tabSize: indent.length };
}
