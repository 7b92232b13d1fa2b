import { readFileSync } from 'node:fs';

const { scripts } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
  readonly scripts: { readonly start: string };
};

/** The options Node gets from `npm start`, for whoever starts the service in another way. */
export const START_OPTIONS: readonly string[] = scripts.start
  .split(' ')
  .filter((word) => word.startsWith('--'));
