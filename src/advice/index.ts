export { advise } from './advise.js';
export type { Advice, AdviceInput, Advisor } from './advise.js';
export { COMPUTATION_IDS, newAdvisor } from './advisor.js';
export { prefetchTemplates, publishedServices, SERVICES } from './services.js';
export type { Hook, Service } from './services.js';
