import { formatDate } from '../../base/dates.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';
import type { ReportAbout } from './report-types.js';

/** What stands below the title of a report, and at its end. */
export function aboutLines({ over, rulebook, engine, site, at }: ReportAbout): readonly Html[] {
  return [
    markup`Over ${over}, as of ${formatDate(at)}, ${at.slice(11, 16)} UTC.`,
    markup`Kotyle rulebook ${rulebook.version} (${rulebook.status}), engine ${engine}${site ? `, site ${site.id} ${site.version}` : ''}.`,
  ];
}

export function footerLines({ rulebook, engine, site }: ReportAbout): readonly string[] {
  return [
    `Kotyle rulebook ${rulebook.version} (${rulebook.status}), ${rulebook.hash}; engine ${engine}.`,
    ...(site ? [`Site ${site.id} ${site.version}, ${site.hash}.`] : []),
  ];
}

/** Figures side by side. */
export function figuresHtml(figures: readonly (readonly [name: string, value: string | number])[]): Html {
  return markup`<dl class="figures">${figures.map(([name, value]) => markup`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>`;
}
