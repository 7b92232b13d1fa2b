import { markup } from '../../render/html.js';
import type { Section } from '../report/page.js';
import type { Readiness } from './readiness-types.js';

/** Room on paper for those who sign, and what they sign. */
const SIGNATURES = 3;

/** Where a committee signs, and what exactly. */
export function signatureSection({ about, contentHash }: Readiness): Section {
  const { rulebook, site, engine } = about;
  const what = site
    ? `site ${site.id} ${site.version} with rulebook ${rulebook.version} (${rulebook.status})`
    : `rulebook ${rulebook.version} (${rulebook.status}), without a site file`;
  return {
    id: 'signature',
    title: 'Signature',
    body: markup`<p>Signed is ${what}, evaluated by engine ${engine}. Any change of a rule, a limit, a state or a map is other content, and needs a new signature. Whoever signs has read this report; it tells of a sample, and of what rules find in records, not of outcomes of patients.</p>
<p>Content to sign: <code>${contentHash}</code></p>
<div class="wide" role="region" aria-label="Signatures" tabindex="0"><table>
<caption>Signatures</caption>
<thead><tr>${['', 'Name', 'Role', 'Date', 'Signature'].map((name, index) => (index === 0 ? markup`<td></td>` : markup`<th scope="col">${name}</th>`))}</tr></thead>
<tbody>
${Array.from({ length: SIGNATURES }, (_none, index) => markup`<tr style="height: 3rem"><th scope="row">${index + 1}</th><td></td><td></td><td></td><td></td></tr>\n`)}</tbody>
</table></div>
${site ? markup`<p>To put a signature into the site file: <code>kotyle sign --site &lt;file&gt; --by &lt;name&gt; --role &lt;role&gt; --date &lt;day&gt;</code></p>` : markup`<p>In production nothing speaks without a site file that names the services which may.</p>`}`,
  };
}
