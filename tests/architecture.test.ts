import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { describe, expect, it } from 'vitest';

const SRC = fileURLToPath(new URL('../src', import.meta.url));

/** Who may import whom (values). `import type` is free. */
const TABLE: Readonly<Record<string, readonly string[]>> = {
  base: [],
  biomechanics: ['base'],
  fhir: ['base'],
  facts: ['base', 'fhir'],
  rulebook: ['base', 'facts'],
  'rulebook-files': ['base', 'rulebook'],
  engine: ['base', 'biomechanics', 'facts', 'rulebook'],
  render: ['base', 'fhir', 'facts', 'rulebook', 'engine'],
  advice: ['base', 'fhir', 'facts', 'rulebook', 'engine', 'render'],
  workbench: ['base', 'fhir', 'rulebook', 'rulebook-files', 'engine', 'render', 'advice'],
  store: ['base'],
  server: ['base', 'fhir', 'rulebook', 'rulebook-files', 'render', 'advice', 'store'],
  cli: [
    'base',
    'biomechanics',
    'fhir',
    'facts',
    'rulebook',
    'rulebook-files',
    'engine',
    'render',
    'advice',
    'workbench',
    'store',
    'server',
  ],
};

/** No clock, randomness, environment, disk or network. */
const PURE: readonly string[] = [
  'base',
  'biomechanics',
  'fhir',
  'facts',
  'rulebook',
  'engine',
  'render',
  'advice',
];

/** Packages a pure folder may use: all run in a browser. */
const PURE_PACKAGES: ReadonlySet<string> = new Set([
  'zod',
  'json-rules-engine',
  '@noble/hashes',
  '@lhncbc/ucum-lhc',
]);

interface Import {
  readonly file: string;
  readonly folder: string;
  readonly target: string;
}

const IMPORT = /^(?:import|export)\s+(?!type\b)(?:[\s\S]*?\sfrom\s+)?'([^']+)';/gm;

function valueImports(): readonly Import[] {
  return sourceFiles().flatMap((file) => {
    const text = readFileSync(file, 'utf8');
    return [...text.matchAll(IMPORT)].map(([, target = '']) => ({
      file: relative(SRC, file),
      folder: folderOf(file),
      target,
    }));
  });
}

function sourceFiles(): readonly string[] {
  return readdirSync(SRC, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name.endsWith('.ts'))
    .map((entry) => join(entry.parentPath, entry.name));
}

function folderOf(file: string): string {
  return relative(SRC, file).split(sep)[0] ?? '';
}

describe('the import table', () => {
  it('names every folder of src', () => {
    expect([...new Set(sourceFiles().map(folderOf))].sort()).toEqual(Object.keys(TABLE).sort());
  });

  it('is kept by every import of a value', () => {
    const inner = valueImports().filter(({ target }) => target.startsWith('.'));
    expect(inner.length).toBeGreaterThan(100);
    const broken = inner.filter(({ file, folder, target }) => {
      const other = folderOf(join(SRC, dirname(file), target));
      return other !== folder && !TABLE[folder]?.includes(other);
    });
    expect(broken).toEqual([]);
  });

  it('keeps clock, randomness, environment, disk and network out of the pure folders', () => {
    const outer = valueImports().filter(
      ({ folder, target }) => PURE.includes(folder) && !target.startsWith('.'),
    );
    const packageOf = (target: string): string =>
      target.startsWith('@') ? target.split('/').slice(0, 2).join('/') : (target.split('/')[0] ?? '');
    expect(outer.filter(({ target }) => !PURE_PACKAGES.has(packageOf(target)))).toEqual([]);
    const impure =
      /\bDate\.now\(|new Date\(\)|Math\.random\(|process\.|performance\.|localeCompare|\bIntl\.|toLocale|setTimeout|fetch\(/;
    const touching = sourceFiles().filter(
      (file) => PURE.includes(folderOf(file)) && impure.test(readFileSync(file, 'utf8')),
    );
    expect(touching.map((file) => relative(SRC, file))).toEqual([]);
  });
});

describe('the top level', () => {
  const HELD = ['DEVELOPERS.md', 'LICENSE', 'README.md', 'fixtures', 'rules', 'src', 'tests'];
  const CONFIGURES = /^(?:package(?:-lock)?|tsconfig(?:\.\w+)?|knip)\.json$|^\w+\.config\.[jt]s$/;
  /** What .gitignore names. */
  const MADE = /^(?:node_modules|dist|coverage|local|kotyle\.sqlite.*|.*\.log)$/;

  it('holds what it is known to hold and nothing that was left lying about', () => {
    const names = readdirSync(join(SRC, '..')).filter((name) => !name.startsWith('.') && !MADE.test(name));
    expect(names.filter((name) => !HELD.includes(name) && !CONFIGURES.test(name))).toEqual([]);
    expect(names).toEqual(expect.arrayContaining(HELD));
  });
});

describe('advise() in a browser', () => {
  it('bundles without node modules and without fhirpath', async () => {
    const result = await build({
      root: SRC,
      logLevel: 'silent',
      configFile: false,
      build: {
        write: false,
        minify: true,
        lib: { entry: join(SRC, 'advice/index.ts'), formats: ['es'] },
        rolldownOptions: { output: { codeSplitting: false } },
      },
    });
    const outputs = Array.isArray(result) ? result : [result];
    const code = outputs
      .flatMap((one) => ('output' in one ? one.output : []))
      .flatMap((chunk) => (chunk.type === 'chunk' ? [chunk] : []));
    const text = code.map((chunk) => chunk.code).join('\n');
    const modules = code.flatMap((chunk) => Object.keys(chunk.modules));
    expect(text).not.toMatch(/from\s*["']node:|require\(["']node:/);
    expect(modules.filter((id) => id.includes('fhirpath') || id.includes('__vite-browser-external'))).toEqual(
      [],
    );
    expect(modules.some((id) => id.includes('advice/advise.ts'))).toBe(true);
    process.stdout.write(`advise() for a browser: ${Math.round(text.length / 1024)} KiB minified\n`);
  }, 60_000);
});
