import { Router } from 'express';
import type { Request, Response } from 'express';
import { issue } from '../base/result.js';
import type { IssueCode } from '../base/result.js';
import { evidenceHtml } from '../render/evidence/evidence-html.js';
import { evidenceIndexHtml } from '../render/evidence/evidence-index-html.js';
import { evidencePage } from '../render/evidence/evidence-page.js';
import { noticeHtml } from '../render/evidence/notice-html.js';
import { PRINTABLE_STYLE, STYLE_NAME } from '../render/evidence/printable-page.js';
import type { Rulebook } from '../rulebook/types.js';
import type { ServiceParts } from './app.js';
import { governedBy, listedServices } from './listed-services.js';
import type { ListedService } from './listed-services.js';
import { perInstallation } from './installation.js';
import type { Installation } from './installation.js';
import { allowOnly, answerProblem, statusOf } from './problems.js';
import { releasedRulebooks } from './released-rulebooks.js';
import type { ReleasedRulebooks } from './released-rulebooks.js';
import { pageHeaders } from './security/headers.js';

/**
 * What is behind each rule, as pages to read and to print: `/evidence/<rulebook version>/<rule>` and, for the rulebook in
 * force, `/evidence/<rule>`; `/evidence/` lists them all. There is nothing of a patient in them, so anybody may read them.
 */
export function evidencePages(
  parts: ServiceParts,
  released: ReleasedRulebooks = releasedRulebooks(),
): Router {
  const router = Router({ caseSensitive: true, strict: true });
  const pages = newPages(parts, released);
  router.use(pageHeaders(parts.config));
  router.get(`/${STYLE_NAME}`, (_request, response) => {
    response.set('Cache-Control', 'public, max-age=3600').type('css').send(PRINTABLE_STYLE);
  });
  router.get('/', (request, response) => {
    if (request.originalUrl.split('?')[0]?.endsWith('/')) sendPage(response, pages.index());
    else response.redirect(308, 'evidence/');
  });
  router.get('/:rule', (request, response) => {
    const { rule } = request.params;
    const { version } = pages.inForce().about;
    // Relative, so that it holds behind whatever path a proxy serves this under.
    if (isRule(pages.inForce(), rule)) response.redirect(307, `${version}/${rule}`);
    else sendNotice(request, response, NO_RULE, '');
  });
  router.get('/:version/:rule', (request, response) => {
    const found = pages.page(request.params.version, request.params.rule);
    if (typeof found === 'string') sendPage(response, found);
    else sendNotice(request, response, found, '../');
  });
  router.all(['/', '/:rule', '/:version/:rule'], allowOnly('GET', 'HEAD'));
  return router;
}

interface Notice {
  readonly code: IssueCode;
  readonly title: string;
  readonly says: string;
}

const NO_RULE: Notice = {
  code: 'unknown-path',
  title: 'No such rule',
  says: 'No rulebook shipped with this program has a rule of this name.',
};

const NO_VERSION: Notice = {
  code: 'gone',
  title: 'This version is not kept here',
  says: 'The page belongs to a version of the rulebook that is not shipped with this program, or that it can no longer read. The rules in force may say something else today.',
};

interface Pages {
  readonly inForce: () => Rulebook;
  readonly index: () => string;
  readonly page: (version: string, rule: string) => string | Notice;
}

/** Pages are written when somebody asks for them, and once. */
function newPages(parts: ServiceParts, released: ReleasedRulebooks): Pages {
  const inForce = (): Rulebook => parts.installation().advisor.rulebook;
  const indexOf = perInstallation((installation) => indexPage(installation, parts));
  const ofInstallation = perInstallation(() => new Map<string, string>());
  const ofReleases = new Map<string, string>();
  return {
    inForce,
    index: () => indexOf(parts.installation()),
    page: (version, rule) => {
      const installation = parts.installation();
      const { rulebook } = installation.advisor;
      if (version === rulebook.about.version)
        return rulePage(rule, { rulebook, kept: ofInstallation(installation), installation }, parts);
      const earlier = released.rulebook(version);
      if (!earlier) return VERSION.test(version) ? NO_VERSION : NO_RULE;
      return rulePage(rule, { rulebook: earlier, kept: ofReleases, installation }, parts);
    },
  };
}

const VERSION = /^\d{4}\.\d{1,2}\.\d{1,6}$/;

interface PageOf {
  readonly rulebook: Rulebook;
  readonly kept: Map<string, string>;
  readonly installation: Installation;
}

function rulePage(
  id: string,
  { rulebook, kept, installation }: PageOf,
  { engineVersion }: ServiceParts,
): string | Notice {
  const rule = rulebook.rules.find((one) => one.id === id);
  if (!rule) return NO_RULE;
  const { advisor, site } = installation;
  const isInForce = rulebook === advisor.rulebook;
  // What is in force may change under the page of an earlier rulebook, so that stands in the key.
  const key = `${rulebook.hash} ${id} ${advisor.rulebook.about.label}`;
  const page =
    kept.get(key) ??
    evidenceHtml(evidencePage(rule, rulebook, engineVersion), {
      rulebook,
      ...(isInForce && site && { site }),
      ...(!isInForce && { replacedBy: advisor.rulebook.about.label }),
    });
  kept.set(key, page);
  return page;
}

function isRule({ rules }: Rulebook, id: string): boolean {
  return rules.some((rule) => rule.id === id);
}

function indexPage(installation: Installation, { config }: ServiceParts): string {
  const { rulebook } = installation.advisor;
  const services = listedServices(governedBy(installation, config), config).map(({ service, stated }) => {
    const { title, description, usageRequirements: usage } = rulebook.about.services[service.about];
    return { id: service.id, hook: service.hook, title, description, usage, state: stateText(stated) };
  });
  return evidenceIndexHtml({ rulebook, services, mode: config.mode });
}

function stateText({ state, why }: ListedService['stated']): string {
  if (state === 'speak') return 'it speaks here';
  const because =
    why === 'not-signed' ? ': not signed' : why === 'not-named' ? ': not named by the site' : '';
  return `it is evaluated and silent here${because}`;
}

function sendPage(response: Response, page: string): void {
  response.set('Cache-Control', 'public, max-age=300').type('html').send(page);
}

/** A person gets a page, a program what every other path answers. */
function sendNotice(request: Request, response: Response, { code, title, says }: Notice, root: string): void {
  if (request.accepts(['html', 'application/fhir+json']) === 'html') {
    response
      .status(statusOf(code))
      .type('html')
      .send(noticeHtml(title, says, root));
    return;
  }
  answerProblem(response, [issue(code, '', says)]);
}
