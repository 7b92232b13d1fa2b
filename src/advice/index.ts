export { advise, openRecord } from './advise.js';
export { unmappedIn, withoutProvenance } from './evaluation.js';
export { missingSets } from './missing-sets.js';
export type { MissingSet } from './missing-sets.js';
export type { Advice, AdviceInput, Advisor } from './advise.js';
export type { Kept } from './tell.js';
export { COMPUTATION_IDS, newAdvisor } from './advisor.js';
export { prefetchTemplates, publishedServices, readsLocalMeasures, SERVICES } from './services.js';
export type { Hook, Service } from './services.js';
