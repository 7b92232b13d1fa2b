import { describe, expect, it } from 'vitest';
import type { Pack } from '../../../src/rulebook/pack.js';
import { parsePack } from '../../../src/rulebook/parse-pack.js';
import { checkRelease } from '../../../src/workbench/check/check-release.js';
import { shippedPack } from '../../rulebook/shipped.js';

/** A rulebook beside the one that was released of it. Truth: closed form; each fault is planted here. */

const STEEP = 'advisories/placement/cup-inclination-outside-published.json';

function changedIn(path: string, members: Readonly<Record<string, unknown>>): Pack {
  return {
    files: shippedPack.files.map((file) =>
      file.path === path ? { path, content: { ...(file.content as object), ...members } } : file,
    ),
  };
}

function faults(pack: Pack, released: Pack | 'none' = shippedPack): readonly string[] {
  return checkRelease(parsePack(pack, []), pack, released === 'none' ? undefined : released).map(
    ({ file, path, expected }) => `${file} ${path}: ${expected}`,
  );
}

const NEWER = { version: '2099.1.0' };

describe('a rulebook beside its release', () => {
  it('has no fault where nothing changed, or nothing was released', () => {
    expect(faults(shippedPack)).toEqual([]);
    expect(faults(changedIn(STEEP, { title: 'Another' }), 'none')).toEqual([]);
  });

  it('needs a version of its own for a rule that changed', () => {
    const changed = changedIn(STEEP, { title: 'Another' });
    expect(faults(changed)).toContain(
      `${STEEP} version: a new version of a rule that changed since its release`,
    );
    const raised = changedIn(STEEP, { title: 'Another', version: '9.0.0' });
    expect(faults(raised)).toEqual([
      'rulebook.json version: a new version, as files differ from those released',
    ]);
  });

  it('needs a version of its own for the rulebook where any file of it changed', () => {
    expect(faults(changedIn('rulebook.json', { title: 'Another' }))).toEqual([
      'rulebook.json version: a new version, as files differ from those released',
    ]);
    expect(faults(changedIn('rulebook.json', { title: 'Another', ...NEWER }))).toEqual([]);
  });

  it('has no rule that is newer than the rulebook says to be', () => {
    const [fault] = faults(changedIn(STEEP, { released: '2099-01-01' }), 'none');
    expect(fault).toMatch(/released: no later than the rulebook, \d{4}-\d{2}-\d{2}$/);
    const revised = faults(changedIn(STEEP, { revised: ['2099-01-01'] }), 'none');
    expect(revised).toHaveLength(1);
  });
});
