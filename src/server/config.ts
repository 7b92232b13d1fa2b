import { createSecretKey } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
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
  /** Publishes order-select under an id of its own, for clients that show one hook of an id only. */
  readonly distinctIds: boolean;
  readonly logLevel: 'silent' | 'error' | 'warn' | 'info' | 'debug';
  /** The SQLite file in which decisions and feedback are kept; `:memory:` keeps them until the service ends. */
  readonly store: string;
  /** Makes pseudonyms of patients and users. A key object, because it prints nothing of itself. */
  readonly pseudonymKey?: KeyObject;
  /** Seals comments. */
  readonly contentKey?: KeyObject;
  /** Whether an answer waits until the decision is kept, and fails when it cannot be. */
  readonly audit: 'best-effort' | 'required';
  /** Base URLs of the FHIR servers that may be asked for what prefetch did not bring; none by default. */
  readonly fhirServers: readonly string[];
  /** The site file of this installation; none when left out. */
  readonly site?: string;
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

/** RFC 4648, section 4: groups of four, the last one filled up. */
const BASE64 = /^(?:[A-Za-z0-9+/]{4})+(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?$/;
const KEY_BYTES = 32;
/** A base URL that can be compared with the `fhirServer` of a call, and written as that comparison reads it. */
const fhirBase = z.string().transform((text, context) => {
  const base = normaliseBase(text);
  if (base !== undefined) return base;
  context.addIssue('expected the base URL of a FHIR server such as https://record.example/fhir');
  return z.NEVER;
});

/** A whole number written in digits; an empty setting is a mistake, not a zero. */
const digits = z.string().regex(/^\d+$/, 'expected a whole number').transform(Number);

/** A secret of at least 32 bytes; what is wrong is told without a part of it. */
const secretKey = z
  .string()
  .refine(
    (text) => BASE64.test(text) && Buffer.from(text, 'base64').length >= KEY_BYTES,
    `expected at least ${KEY_BYTES} bytes in base64`,
  )
  .transform((text) => createSecretKey(text, 'base64'));
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
  KOTYLE_DISTINCT_IDS: z.enum(['true', 'false']).default('false'),
  KOTYLE_LOG_LEVEL: z.enum(['silent', 'error', 'warn', 'info', 'debug']).default('info'),
  KOTYLE_STORE: z.string().min(1).default('kotyle.sqlite'),
  KOTYLE_PSEUDONYM_KEY: secretKey.optional(),
  KOTYLE_CONTENT_KEY: secretKey.optional(),
  KOTYLE_AUDIT: z.enum(['best-effort', 'required']).default('best-effort'),
  KOTYLE_FHIR_SERVERS: list.pipe(z.array(fhirBase)),
  KOTYLE_SITE: z.string().min(1).optional(),
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
    distinctIds: settings.KOTYLE_DISTINCT_IDS === 'true',
    logLevel: settings.KOTYLE_LOG_LEVEL,
    store: settings.KOTYLE_STORE,
    ...(settings.KOTYLE_PSEUDONYM_KEY && { pseudonymKey: settings.KOTYLE_PSEUDONYM_KEY }),
    ...(settings.KOTYLE_CONTENT_KEY && { contentKey: settings.KOTYLE_CONTENT_KEY }),
    audit: settings.KOTYLE_AUDIT,
    fhirServers: settings.KOTYLE_FHIR_SERVERS,
    ...(settings.KOTYLE_SITE !== undefined && { site: settings.KOTYLE_SITE }),
    fhirBudgetMs: settings.KOTYLE_FHIR_BUDGET_MS,
  };
}
