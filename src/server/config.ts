import type { KeyObject } from 'node:crypto';
import { z } from 'zod';
import {
  digits,
  fhirServerList,
  frameAncestor,
  isLoopback,
  list,
  origin,
  publicUrl,
  secretKey,
} from './setting-forms.js';

/** Everything the service takes from its environment: read once, here, and passed on as values. */
export interface Config {
  /** Production authenticates every caller, needs signed knowledge, and is set explicitly. */
  readonly mode: 'development' | 'production';
  readonly port: number;
  readonly host: string;
  /** Metrics and readiness on a port of their own, for the operator's network only. */
  readonly operationsPort?: number;
  readonly operationsHost: string;
  /** How long the service goes on answering after it was told to stop, while its readiness already says so. */
  readonly drainS: number;
  /** Where clients reach the service, without a slash at the end; its path is the prefix of every path. */
  readonly publicUrl?: string;
  /** Stated by the operator: TLS ends in front of this process. */
  readonly tlsInFront: boolean;
  /** The file of clients: who may call, with which keys, for which tenants. */
  readonly clients?: string;
  /** How long a client's token may be valid, from its issue to its end. */
  readonly tokenMaxAgeS: number;
  /** How far the clocks of client and service may differ. */
  readonly tokenSkewS: number;
  /** The version of CDS Hooks that is published; nothing is sent that a 2.0 client could not read. */
  readonly hooksVersion: '2.0.1' | '3.0.0';
  /** Origins a browser may call from; none by default. */
  readonly corsOrigins: readonly string[];
  /** Pages that may show ours in a frame; none by default. */
  readonly frameAncestors: readonly string[];
  readonly bodyLimitBytes: number;
  /** Calls worked on at once; more are turned away with 503, so that those taken are answered in time. */
  readonly mostAtOnce: number;
  /** Calls that come together may keep the process busy for about so long; more are turned away as well. */
  readonly busyMs: number;
  /** Calls a minute of one client and tenant; 0 is no limit. */
  readonly callsPerMinute: number;
  /** Refuses what it would otherwise take with a remark: for conformance runs. */
  readonly strict: boolean;
  /** Publishes order-select under an id of its own, for clients that show one hook of an id only. */
  readonly distinctIds: boolean;
  readonly logLevel: 'silent' | 'error' | 'warn' | 'info' | 'debug';
  /** A SQLite file, `:memory:` until the service ends, or a PostgreSQL URL. */
  readonly store: string;
  /** Makes pseudonyms of patients and users. A key object, because it prints nothing of itself. */
  readonly pseudonymKey?: KeyObject;
  /** Wraps the keys under which contents and comments are sealed. */
  readonly contentKey?: KeyObject;
  /** How long inputs and cards are kept, sealed; 0 keeps none. */
  readonly keepContentHours: number;
  /** How long records are kept; 0 keeps them until they are erased. */
  readonly keepRecordDays: number;
  /** Whether an answer waits until the decision is kept, and fails when it cannot be. */
  readonly audit: 'best-effort' | 'required';
  /** Base URLs of the FHIR servers that may be asked for what prefetch did not bring; none by default. */
  readonly fhirServers: readonly string[];
  /** Time one call may spend on reading from them, all requests together. */
  readonly fhirBudgetMs: number;
  /** A released pack to answer from, in place of the rulebook shipped with the program. */
  readonly rulebook?: string;
  /** The site file of this installation; none when left out. */
  readonly site?: string;
  /** A released pack that is evaluated in the shadow of every answer. */
  readonly candidate?: string;
  /** Names of the settings that were set, as against those left to their defaults; production asks for some by name. */
  readonly stated: ReadonlySet<string>;
}

const flag = z.enum(['true', 'false']).default('false');
const file = z.string().min(1).optional();

const settings = z.object({
  KOTYLE_MODE: z.enum(['development', 'production']).default('development'),
  KOTYLE_PORT: digits.pipe(z.number().max(65_535)).default(3000),
  KOTYLE_HOST: z.string().min(1).default('127.0.0.1'),
  KOTYLE_OPERATIONS_PORT: digits.pipe(z.number().max(65_535)).optional(),
  KOTYLE_OPERATIONS_HOST: z.string().min(1).default('127.0.0.1'),
  KOTYLE_DRAIN_S: digits.pipe(z.number().max(120)).default(0),
  KOTYLE_PUBLIC_URL: publicUrl.optional(),
  KOTYLE_TLS_IN_FRONT: flag,
  KOTYLE_CLIENTS: file,
  KOTYLE_TOKEN_MAX_AGE_S: digits.pipe(z.number().min(30).max(3600)).default(300),
  KOTYLE_TOKEN_SKEW_S: digits.pipe(z.number().max(60)).default(30),
  KOTYLE_HOOKS_VERSION: z.enum(['2.0.1', '3.0.0']).default('2.0.1'),
  KOTYLE_CORS_ORIGINS: list.pipe(z.array(origin)),
  KOTYLE_FRAME_ANCESTORS: list.pipe(z.array(frameAncestor)),
  KOTYLE_BODY_LIMIT_BYTES: digits.pipe(z.number().min(1024)).default(16 * 1024 * 1024),
  KOTYLE_MOST_AT_ONCE: digits.pipe(z.number().min(1).max(10_000)).default(32),
  KOTYLE_BUSY_MS: digits.pipe(z.number().min(1).max(60_000)).default(100),
  KOTYLE_CALLS_PER_MINUTE: digits.default(0),
  KOTYLE_STRICT: flag,
  KOTYLE_DISTINCT_IDS: flag,
  KOTYLE_LOG_LEVEL: z.enum(['silent', 'error', 'warn', 'info', 'debug']).default('info'),
  KOTYLE_STORE: z.string().min(1).default('kotyle.sqlite'),
  KOTYLE_PSEUDONYM_KEY: secretKey.optional(),
  KOTYLE_CONTENT_KEY: secretKey.optional(),
  KOTYLE_KEEP_CONTENT_HOURS: digits.pipe(z.number().max(24 * 366)).default(12),
  KOTYLE_KEEP_RECORD_DAYS: digits.default(0),
  KOTYLE_AUDIT: z.enum(['best-effort', 'required']).default('best-effort'),
  KOTYLE_FHIR_SERVERS: fhirServerList,
  KOTYLE_FHIR_BUDGET_MS: digits.pipe(z.number().min(1).max(30_000)).default(350),
  KOTYLE_RULEBOOK: file,
  KOTYLE_SITE: file,
  KOTYLE_CANDIDATE: file,
});

type Settings = z.infer<typeof settings>;

/** Development answers whoever asks, so it is not reached from another machine. */
const schema = settings.refine((read) => read.KOTYLE_MODE === 'production' || isLoopback(read.KOTYLE_HOST), {
  path: ['KOTYLE_HOST'],
  error:
    'expected localhost, 127.0.0.1 or ::1, because nobody is authenticated in development (KOTYLE_MODE=production authenticates), found another host',
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
  const stated = Object.keys(settings.shape).filter((name) => environment[name] !== undefined);
  return configOf(result.data, new Set(stated));
}

function configOf(settings: Settings, stated: ReadonlySet<string>): Config {
  return {
    mode: settings.KOTYLE_MODE,
    port: settings.KOTYLE_PORT,
    host: settings.KOTYLE_HOST,
    ...some('operationsPort', settings.KOTYLE_OPERATIONS_PORT),
    operationsHost: settings.KOTYLE_OPERATIONS_HOST,
    drainS: settings.KOTYLE_DRAIN_S,
    ...some('publicUrl', settings.KOTYLE_PUBLIC_URL),
    tlsInFront: settings.KOTYLE_TLS_IN_FRONT === 'true',
    ...some('clients', settings.KOTYLE_CLIENTS),
    tokenMaxAgeS: settings.KOTYLE_TOKEN_MAX_AGE_S,
    tokenSkewS: settings.KOTYLE_TOKEN_SKEW_S,
    hooksVersion: settings.KOTYLE_HOOKS_VERSION,
    corsOrigins: settings.KOTYLE_CORS_ORIGINS,
    frameAncestors: settings.KOTYLE_FRAME_ANCESTORS,
    bodyLimitBytes: settings.KOTYLE_BODY_LIMIT_BYTES,
    mostAtOnce: settings.KOTYLE_MOST_AT_ONCE,
    busyMs: settings.KOTYLE_BUSY_MS,
    callsPerMinute: settings.KOTYLE_CALLS_PER_MINUTE,
    strict: settings.KOTYLE_STRICT === 'true',
    distinctIds: settings.KOTYLE_DISTINCT_IDS === 'true',
    logLevel: settings.KOTYLE_LOG_LEVEL,
    store: settings.KOTYLE_STORE,
    ...some('pseudonymKey', settings.KOTYLE_PSEUDONYM_KEY),
    ...some('contentKey', settings.KOTYLE_CONTENT_KEY),
    keepContentHours: settings.KOTYLE_KEEP_CONTENT_HOURS,
    keepRecordDays: settings.KOTYLE_KEEP_RECORD_DAYS,
    audit: settings.KOTYLE_AUDIT,
    fhirServers: settings.KOTYLE_FHIR_SERVERS,
    fhirBudgetMs: settings.KOTYLE_FHIR_BUDGET_MS,
    ...some('rulebook', settings.KOTYLE_RULEBOOK),
    ...some('site', settings.KOTYLE_SITE),
    ...some('candidate', settings.KOTYLE_CANDIDATE),
    stated,
  };
}

/** A member that is left out where nothing was set. */
function some<Name extends string, Value>(
  name: Name,
  value: Value | undefined,
): Partial<Record<Name, Value>> {
  return value === undefined ? {} : ({ [name]: value } as Record<Name, Value>);
}
