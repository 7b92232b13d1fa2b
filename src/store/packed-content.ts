import type { Json } from '../base/canonical-json.js';
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import type { ContentToKeep, DecisionContent } from './decision-content.js';

/**
 * Records repeat themselves: the quickest level with a small window leaves a tenth of them in less time than the disk
 * would need for the rest. Handing it to another thread costs more than doing it.
 */
const QUICK = { level: 1, windowBits: 13, memLevel: 6 } as const;
/** More than any call may bring, so that a damaged content does not fill the memory. */
const MOST_BYTES = 256 * 1024 * 1024;

export function packContent(content: ContentToKeep): Buffer {
  return deflateRawSync(JSON.stringify(wholeContent(content)), QUICK);
}

const utf8 = new TextDecoder();

function wholeContent({ call, cards, sent }: ContentToKeep): DecisionContent {
  if (!sent) return { call, cards };
  const { prefetch } = JSON.parse(utf8.decode(sent)) as { readonly prefetch?: Json };
  return { call: { ...call, prefetch: prefetch ?? {} }, cards };
}

export function unpackContent(bytes: Buffer): DecisionContent {
  const text = inflateRawSync(bytes, { maxOutputLength: MOST_BYTES }).toString('utf8');
  return JSON.parse(text) as DecisionContent;
}
