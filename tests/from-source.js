import { register } from 'tsx/esm/api';

// Preloaded by a process, and so by each of its threads: both read TypeScript then.
register();
