import { describe, expect, it } from 'vitest';
import { advise } from '../../src/advice/index.js';
import type { Advice, AdviceInput } from '../../src/advice/index.js';
import type { Rule } from '../../src/rulebook/types.js';
import { everyCarrier } from './every-carrier.js';
import { advisor, answerTo, inputFor, rulebook } from './patients.js';

type Answer = Extract<Advice, { kind: 'answer' }>;

function bothHips(): AdviceInput {
  const input = inputFor(everyCarrier(), 'order-sign');
  if (!input) throw new Error('nothing to sign');
  return input;
}

/** The answer where each finding of one rule has been changed behind the back of the rulebook's own check. */
async function answerWith(
  broken: string,
  change: (finding: Rule['findings'][number]) => Rule['findings'][number],
): Promise<Answer> {
  const rules = rulebook.rules.map((rule) =>
    rule.id === broken ? { ...rule, findings: rule.findings.map(change) } : rule,
  );
  const answer = await advise(bothHips(), { ...advisor, rulebook: { ...rulebook, rules } });
  if (answer.kind !== 'answer') throw new Error(answer.kind);
  return answer;
}

async function keptBack(why: string): Promise<string> {
  const { kept } = await answerTo(bothHips());
  const one = kept.find((each) => each.why === why);
  if (!one) throw new Error(`nothing was kept back because of ${why}`);
  return one.card.rule;
}

// Truth: requirement: a rule that cannot be told is named as one that could not be evaluated, also where an answer has
// no room for its card.
describe('a rule whose words cannot be filled', () => {
  it.each(['ceiling', 'said-by-another'])(
    'could not be evaluated, although its card would have been kept back (%s)',
    async (why) => {
      const rule = await keptBack(why);
      const hole = { sure: 'about {no-such-thing}' };
      const answer = await answerWith(rule, (finding) => ({ ...finding, ...hole }));
      expect(answer.faults.map((fault) => fault.rule)).toContain(rule);
      expect(answer.kept.map(({ card }) => card.rule)).not.toContain(rule);
      const said = answer.hips.flatMap(({ advisories }) => advisories).filter((one) => one.rule === rule);
      expect(said.filter(({ broken }) => broken).map(({ outcome }) => outcome)).toContain('cannot-tell');
      expect(said.map(({ outcome }) => outcome)).not.toContain('fires');
    },
  );

  it('is the same without anything to do about it', async () => {
    const rule = await keptBack('ceiling');
    const answer = await answerWith(rule, ({ summary, found, sure, notKnown }) => ({
      summary,
      found,
      sure,
      notKnown,
    }));
    expect(answer.faults.map((fault) => fault.rule)).toContain(rule);
  });
});
