import type { Card } from './card-types.js';

const WIDTH = 100;

/** A card as a clinician would read it in a terminal: no markup, wrapped, indicator first. */
export function cardText(card: Pick<Card, 'summary' | 'detail' | 'indicator'>): string {
  const head = wrap(`[${card.indicator}] ${card.summary}`, 0);
  const body = card.detail
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => wrap(plain(line), 2));
  return [head, ...body].join('\n');
}

function plain(markdown: string): string {
  return markdown
    .replaceAll(/\*\*([^*]+)\*\*/g, (_whole, label: string) => (label.endsWith('?') ? label : `${label}:`))
    .replaceAll(/^\*(.*)\*$/g, '$1');
}

function wrap(text: string, indent: number): string {
  const pad = ' '.repeat(indent);
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    const longer = line === '' ? word : `${line} ${word}`;
    if (longer.length > WIDTH - indent && line !== '') {
      lines.push(line);
      line = word;
    } else {
      line = longer;
    }
  }
  lines.push(line);
  return lines.map((each, index) => (index === 0 ? pad + each : `${pad}    ${each}`)).join('\n');
}
