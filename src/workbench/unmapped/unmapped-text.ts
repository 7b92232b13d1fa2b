import { textColumns } from '../text-columns.js';
import type { UnmappedReport, UnmappedRow } from './unmapped-report.js';

/** What was not understood, for a terminal. `from` says where it was counted. */
export function unmappedText({ local, published, nameless }: UnmappedReport, from: string): string {
  const missing = local.filter(({ isMappedNow }) => !isMappedNow);
  const mapped = local.filter(({ isMappedNow }) => isMappedNow);
  const parts = [
    `Codings that nothing understood, ${from}. A count is of resources, once for each call.`,
    section('Local codes without a line in a map', missing, 'none: every local code met is understood'),
    ...(mapped.length === 0
      ? []
      : [section('Local codes met before the maps had them, or where they do not count', mapped, '')]),
    section('Published codes that no rule reads; most have nothing to do with a hip', published, 'none'),
    section('No code that a map could name: without a system, or words', nameless, 'none'),
  ];
  return `${parts.join('\n\n')}\n`;
}

function section(title: string, rows: readonly UnmappedRow[], otherwise: string): string {
  if (rows.length === 0) return `${title}: ${otherwise}`;
  const cells = rows.map(({ count, resourceType, element, system, code, wants }) => [
    String(count),
    `${resourceType}.${element}`,
    code,
    system,
    wants === undefined ? '' : `needs ${wants.says}`,
  ]);
  return `${title} (${rows.length}):\n${textColumns(cells)}`;
}
