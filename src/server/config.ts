import { z } from 'zod';
import { normaliseBase } from './fallback/base-url.js';

/** Everything the service takes from its environment: read once, here, and passed on as values. */
export interface Config {
  readonly port: number;
  readonly host: string;
  /** Origins a browser may call from; none by default. */
  readonly corsOrigins: readonly string[];
  readonly bodyLimitBytes: number;
  /** Refuses what it would otherwise take with a remark: for conformance runs. */
  readonly strict: boolean;
  readonly logLevel: 'silent' | 'error' | 'warn' | 'info' | 'debug';
  /** Base URLs of the FHIR servers that may be asked for what prefetch did not bring; none by default. */
  readonly fhirServers: readonly string[];
  /** Time one call may spend on reading from them, all requests together. */
  readonly fhirBudgetMs: number;
}

/** An origin as browsers send it: scheme, host and port, nothing behind; anything else would never match. */
const origin = z
  .string()
  .refine(
    (text) => /^https?:/.test(text) && URL.canParse(text) && new URL(text).origin === text,
    'expected an origin such as https://chart.example',
  );

/** A base URL that can be compared with the `fhirServer` of a call, and written as that comparison reads it. */
const fhirBase = z.string().transform((text, context) => {
  const base = normaliseBase(text);
  if (base !== undefined) return base;
  context.addIssue('expected the base URL of a FHIR server such as https://record.example/fhir');
  return z.NEVER;
});

/** A whole number written in digits; an empty setting is a mistake, not a zero. */
const digits = z.string().regex(/^\d+$/, 'expected a whole number').transform(Number);

/** Parts written with commas between them; none by default. */
const list = z
  .string()
  .default('')
  .transform((text) =>
    text
      .split(',')
      .map((part) => part.trim())
      .filter((part) => part !== ''),
  );

const schema = z.object({
  KOTYLE_PORT: digits.pipe(z.number().max(65_535)).default(3000),
  KOTYLE_HOST: z.string().min(1).default('127.0.0.1'),
  KOTYLE_CORS_ORIGINS: list.pipe(z.array(origin)),
  KOTYLE_BODY_LIMIT_BYTES: digits.pipe(z.number().min(1024)).default(16 * 1024 * 1024),
  KOTYLE_STRICT: z.enum(['true', 'false']).default('false'),
  KOTYLE_LOG_LEVEL: z.enum(['silent', 'error', 'warn', 'info', 'debug']).default('info'),
  KOTYLE_FHIR_SERVERS: list.pipe(z.array(fhirBase)),
  KOTYLE_FHIR_BUDGET_MS: digits.pipe(z.number().min(1).max(30_000)).default(350),
});

/** Reads the settings; throws naming each setting that is wrong, what was expected, and never a secret. */
export function readConfig(environment: Readonly<Record<string, string | undefined>>): Config {
  const result = schema.safeParse(environment);
  if (!result.success) {
    const faults = result.error.issues.map(
      (issue) => `${issue.path.map(String).join('.')}: ${issue.message}`,
    );
    throw new Error(`the environment has faults:\n${faults.join('\n')}`);
  }
  const settings = result.data;
  return {
    port: settings.KOTYLE_PORT,
    host: settings.KOTYLE_HOST,
    corsOrigins: settings.KOTYLE_CORS_ORIGINS,
    bodyLimitBytes: settings.KOTYLE_BODY_LIMIT_BYTES,
    strict: settings.KOTYLE_STRICT === 'true',
    logLevel: settings.KOTYLE_LOG_LEVEL,
    fhirServers: settings.KOTYLE_FHIR_SERVERS,
    fhirBudgetMs: settings.KOTYLE_FHIR_BUDGET_MS,
  };
}
