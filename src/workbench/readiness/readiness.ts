import { advise } from '../../advice/index.js';
import type { AdviceInput, Advisor } from '../../advice/index.js';
import type { EvaluationSetting } from '../../advice/hook-inputs.js';
import type { Hazard } from '../../rulebook/hazard-schema.js';
import { reportAbout } from '../report/cohort.js';
import { governanceFigures, ruleStateText, signedContent } from './governance-figures.js';
import { LatencyBins } from './latency-bins.js';
import type { LatencyFigures, Readiness } from './readiness-types.js';
import { SampleCounts } from './sample-counts.js';
import type { Answered } from './sample-counts.js';
import type { SampleMember } from './sample-member.js';
import { Tally } from './tally.js';

export interface ReadinessParts {
  readonly setting: EvaluationSetting;
  readonly advisor: Advisor;
  /** What is run over, in words. */
  readonly over: string;
  readonly hazards: readonly Hazard[];
  /** Measures how long advice takes; left out where the same sample must give the same report. */
  readonly timed?: { readonly elapsedMs: () => number; readonly machine: string };
  readonly onMember?: (done: number) => void;
  /** Told of each member that could not be used. */
  readonly onUnreadable?: (where: string, why: string) => void;
}

/**
 * Runs a sample of calls as an installation would answer them once it speaks, one after another: memory holds counts,
 * never patients.
 */
export async function readinessOf(
  members: AsyncIterable<SampleMember> | Iterable<SampleMember>,
  parts: ReadinessParts,
): Promise<Readiness> {
  const { setting, over, hazards, onMember, onUnreadable } = parts;
  const counts = new SampleCounts(setting);
  const unreadable = new Tally();
  const forms = new Tally<'call' | 'bundle'>();
  const latency = new LatencyBins();
  let done = 0;
  for await (const member of members) {
    if ('why' in member) {
      unreadable.add(member.why);
      onUnreadable?.(member.where, member.why);
    } else {
      forms.add(member.form);
      counts.add(await answersTo(member.inputs, parts, latency));
    }
    done += 1;
    onMember?.(done);
  }
  const { months, ...figures } = counts.figures((rule, hooks) => ruleStateText(setting, rule, hooks));
  return {
    kind: 'readiness',
    about: reportAbout(setting, over),
    contentHash: signedContent(setting),
    sample: {
      members: done,
      calls: forms.of('call'),
      bundles: forms.of('bundle'),
      unreadable: unreadable.list().map(([why, count]) => ({ why, count })),
      months,
    },
    governance: governanceFigures(setting),
    ...figures,
    limits: setting.rulebook.about.limits ?? [],
    hazards: hazards.filter(({ status }) => status !== 'controlled'),
    ...(parts.timed && { latency: latencyFigures(latency, parts.timed.machine) }),
  };
}

async function answersTo(
  inputs: readonly AdviceInput[],
  { advisor, timed }: ReadinessParts,
  latency: LatencyBins,
): Promise<readonly Answered[]> {
  const answers: Answered[] = [];
  for (const input of inputs) {
    const started = timed?.elapsedMs() ?? 0;
    const advice = await advise(input, advisor);
    if (timed) latency.add(timed.elapsedMs() - started);
    answers.push({ input, advice });
  }
  return answers;
}

function latencyFigures(latency: LatencyBins, machine: string): LatencyFigures {
  const { count: calls, longest } = latency;
  return { calls, p50: latency.at(0.5), p95: latency.at(0.95), p99: latency.at(0.99), longest, machine };
}
