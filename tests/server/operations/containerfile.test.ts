import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';

const ROOT = fileURLToPath(new URL('../../../', import.meta.url));
const lines = readFileSync(join(ROOT, 'src/server/Containerfile'), 'utf8')
  .split('\n')
  .filter((line) => line !== '' && !line.startsWith('#'));
const runtime = lines.slice(lines.findLastIndex((line) => line.startsWith('FROM')));

/** What it runs with Node: options, and a path in the image. */
const runs = runtime.flatMap((line) => {
  const given = /CMD (\["node", .+\])$/.exec(line)?.[1];
  return given === undefined ? [] : [(JSON.parse(given) as readonly string[]).slice(1)];
});
const commands = runs.map((given) => given.at(-1) ?? '');

// It can't be built without a registry of base images; what it takes from the source tree can be looked at.
describe('the container file', () => {
  it('copies only what is there, or what the build makes', () => {
    const copied = lines
      .filter((line) => line.startsWith('COPY'))
      .flatMap((line) => {
        const parts = line.split(/\s+/).slice(1, -1);
        return parts.some((part) => part.startsWith('--from')) ? [] : parts;
      });
    expect(copied).toEqual(expect.arrayContaining(['package.json', 'src', 'rules']));
    expect(copied.filter((path) => !existsSync(join(ROOT, path)))).toEqual([]);
  });

  it('runs commands that the build makes from sources that are there', () => {
    expect(commands).toEqual(['dist/cli/healthy.js', 'dist/cli/serve.js']);
    for (const path of commands)
      expect(existsSync(join(ROOT, path.replace('dist/', 'src/').replace('.js', '.ts'))), path).toBe(true);
  });

  it('starts the service with the options of `npm start` and of the deployment guide', () => {
    const service = runs.find((given) => given.at(-1) === 'dist/cli/serve.js')?.join(' ');
    const { scripts } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as {
      readonly scripts: Readonly<Record<string, string>>;
    };
    expect(scripts['start']).toBe(`npm run build && node ${service}`);
    const guide = readFileSync(join(ROOT, 'src/server/DEPLOYMENT.md'), 'utf8');
    expect(guide).toContain(`\nnode ${service} 2> local/log.ndjson &\n`);
  });

  it('runs as an ordinary user, and names no secret and no registry', () => {
    expect(runtime).toContain('USER node');
    expect(runtime.indexOf('USER node')).toBeLessThan(runtime.findIndex((line) => line.startsWith('CMD')));
    expect(lines.filter((line) => /^(?:ENV|ARG)/.test(line))).toEqual([
      'ARG BASE=node:20-bookworm-slim',
      'ENV NODE_ENV=production',
    ]);
  });

  it('holds no tests, no fixtures and nothing that is only needed for development', () => {
    for (const line of runtime) expect(line).not.toMatch(/tests|fixtures|\.git/);
    expect(lines.join('\n')).toContain('npm prune --omit=dev');
  });
});
