import type { Advisor } from '../../advice/index.js';
import { isIcdSystem } from '../../fhir/codings.js';
import { codingsWithin } from '../trial/coded-cases.js';
import { ask } from '../trial/run-case.js';
import { isKept, judge } from '../trial/verdict.js';
import type { CodeMutant } from './mutant.js';
import type { Observed } from './observed.js';

/** Finds the first case that a thinned code list would break: only cases that carry the code are read again. */
export class CodeNoticer {
  readonly #carrying: readonly { readonly one: Observed; readonly codings: ReadonlySet<string> }[];

  constructor(
    observed: readonly Observed[],
    private readonly advisor: Advisor,
  ) {
    // Patients of whom one code is recorded are the quickest to read, and the likeliest to notice.
    const coded = observed.filter(({ trial }) => trial.expects.kind === 'facts');
    const others = observed.filter(({ trial }) => trial.expects.kind !== 'facts');
    this.#carrying = [...coded, ...others].map((one) => ({ one, codings: codingsWithin(one.trial.bundle) }));
  }

  async noticedBy(mutant: CodeMutant): Promise<string | undefined> {
    const carrying = this.#carrying.filter(({ codings }) => carries(codings, mutant));
    if (carrying.length === 0) return undefined;
    const advisor = { ...this.advisor, rulebook: mutant.rulebook() };
    for (const { one } of carrying) {
      const verdict = judge({ trial: one.trial, ...(await ask(one.input, advisor)) });
      if (!isKept(verdict)) return `${one.trial.name} at ${one.trial.hook}`;
    }
    return undefined;
  }
}

/** Whether a record holds the code, or one below it. */
function carries(codings: ReadonlySet<string>, { system, code }: CodeMutant): boolean {
  const key = `${system}|${code}`;
  if (codings.has(key)) return true;
  return isIcdSystem(system) && [...codings].some((coding) => coding.startsWith(key));
}
