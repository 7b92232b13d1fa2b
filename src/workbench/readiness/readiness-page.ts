import { page } from '../report/page.js';
import { aboutLines, footerLines } from '../report/report-head.js';
import { cardsSection } from './cards-section.js';
import { codesSection } from './codes-section.js';
import { overviewSection } from './overview-section.js';
import type { Readiness } from './readiness-types.js';
import { recognitionSection } from './recognition-section.js';
import { recordSection } from './record-section.js';
import { missingSection, rulesSection } from './rules-section.js';
import { latencySection, limitsSection } from './safety-sections.js';
import { signatureSection } from './signature-section.js';
import { speakingSection } from './speaking-section.js';

/** What a committee reads before it signs, as one HTML file. */
export function readinessPage(readiness: Readiness, deferral: string): string {
  const { about, missing, latency } = readiness;
  const { rulebook, site } = about;
  return page({
    kind: 'Kotyle readiness report',
    title: site ? `${site.id} ${site.version}` : `Rulebook ${rulebook.version}, no site`,
    about: aboutLines(about),
    deferral,
    sections: [
      overviewSection(readiness),
      speakingSection(readiness),
      recognitionSection(readiness),
      cardsSection(readiness),
      rulesSection(readiness),
      missingSection(missing),
      recordSection(readiness),
      codesSection(readiness),
      limitsSection(readiness),
      ...(latency ? [latencySection(latency)] : []),
      signatureSection(readiness),
    ],
    footer: footerLines(about),
  });
}
