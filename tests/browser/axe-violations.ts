import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';

type Results = Awaited<ReturnType<AxeBuilder['analyze']>>;

/** What axe-core finds wrong with a page. In the dark only colors are other than in the light. */
export async function axeViolations(page: Page, scheme: 'light' | 'dark'): Promise<Results['violations']> {
  const builder = new AxeBuilder({ page }).setLegacyMode().options({ resultTypes: ['violations'] });
  const { violations } = await (scheme === 'dark' ? builder.withRules('color-contrast') : builder).analyze();
  return violations;
}
