import type { Sampling } from './sampling.js';
import type { Indication, Operation } from './truth.js';

/** What is operated on, and why. */
export function drawOperation({ draws, population }: Sampling): Operation {
  const { operation, femur } = population;
  const kind = draws.isChosen('operation.revision', operation.revision.value)
    ? 'revision'
    : draws.isChosen('operation.conversion', operation.conversion.value)
      ? 'conversion'
      : 'primary';
  const side = draws.isChosen('operation.left', operation.left.value) ? 'left' : 'right';
  const indication = indicationOf({ draws, population }, kind);
  return {
    kind,
    side,
    indication,
    ...(indication === 'dysplasia' && {
      croweType: draws.choice('operation.crowe', femur.croweTypes.shares),
    }),
  };
}

function indicationOf(
  { draws, population: { operation } }: Pick<Sampling, 'draws' | 'population'>,
  kind: Operation['kind'],
): Indication {
  switch (kind) {
    case 'revision':
      return draws.isChosen('operation.instability', operation.instabilityAtRevision.value)
        ? 'instability'
        : draws.choice('operation.cause', operation.otherRevisionCauses.shares);
    case 'conversion':
      return 'failed-fixation';
    case 'primary': {
      const { shares } = operation.otherIndications;
      const others = Object.values(shares).reduce((sum, share) => sum + share, 0);
      const found = draws.choice('operation.indication', { ...shares, common: 1 - others });
      if (found !== 'common') return found;
      return draws.isChosen('operation.dysplasia', operation.dysplasia.value)
        ? 'dysplasia'
        : 'osteoarthritis';
    }
  }
}
