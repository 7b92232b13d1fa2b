import { fileURLToPath } from 'node:url';

/** Where the page lies, beside the parameters of the computations. */
export const WRITTEN_PAGE = fileURLToPath(new URL('../../rules/computations/VALIDATION.md', import.meta.url));
