import type { Advisor } from '../advice/index.js';
import type { Site } from '../rulebook/site.js';

/**
 * The knowledge answers are made from: rulebook and site, checked together and replaced together. Whoever answers a
 * call takes it once, so that one answer never mixes two.
 */
export interface Installation {
  readonly advisor: Advisor;
  /** The installation's own codes, choices and readers. */
  readonly site?: Site;
}

/** Works something out once for each installation: what is published changes only with the knowledge behind it. */
export function perInstallation<Value>(
  build: (installation: Installation) => Value,
): (installation: Installation) => Value {
  const built = new WeakMap<Installation, { readonly value: Value }>();
  return (installation) => {
    const known = built.get(installation);
    if (known) return known.value;
    const value = build(installation);
    built.set(installation, { value });
    return value;
  };
}
