import { UcumLhcUtils } from '@lhncbc/ucum-lhc';

const ucum = UcumLhcUtils.getInstance();
const known = new Map<string, number | undefined>();

/**
 * The factor that turns a quantity in one UCUM unit into another, or undefined when they measure different things or
 * the unit is none. Only ratio scales are asked for here (angles, lengths, rates), so a factor says everything.
 */
export function ucumFactor(from: string, to: string): number | undefined {
  if (from === to) return 1;
  const key = `${from}→${to}`;
  if (!known.has(key)) known.set(key, factorOf(from, to));
  return known.get(key);
}

/** Units come from outside: the cache must not grow with them without end. */
const LONGEST_UNIT = 20;

function factorOf(from: string, to: string): number | undefined {
  if (from.length > LONGEST_UNIT || known.size > 10_000) return undefined;
  const answer = ucum.convertUnitTo(from, 1, to);
  return answer.status === 'succeeded' && typeof answer.toVal === 'number' ? answer.toVal : undefined;
}
