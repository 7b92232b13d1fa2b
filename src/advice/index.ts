export { advise, openingOnce, openRecord } from './advise.js';
export { agreesWithReference } from './agreement.js';
export type { Agreement } from './agreement.js';
export { unmappedIn, withoutProvenance } from './evaluation.js';
export { missingSets } from './missing-sets.js';
export type { MissingSet } from './missing-sets.js';
export type { Advice, AdviceInput, Advisor, OpenRecord } from './advise.js';
export type { Kept } from './tell.js';
export { COMPUTATION_IDS, newAdvisor } from './advisor.js';
export {
  prefetchTemplates,
  publishedServices,
  readsLocalMeasures,
  SERVICES,
  siteServiceId,
} from './services.js';
export type { Hook, Service } from './services.js';
