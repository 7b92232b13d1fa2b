import { formatDate } from '../base/dates.js';
import { sortedUnique } from '../base/order.js';
import { conditionLimits } from '../rulebook/condition-facts.js';
import { holds } from '../rulebook/governance.js';
import { placeholdersOf } from '../rulebook/placeholders.js';
import { wordsOf } from '../rulebook/resolve-rule.js';
import type { Finding, Parameter, Rule, RulebookFile } from '../rulebook/types.js';
import type { CardContext } from './card-types.js';
import { formatDimension } from './format.js';

/**
 * The one line of a card that tells what of it is the site's own doing: limits beside the rulebook's, what has ended,
 * its note. Whoever books reads no numbers, so limits stand on the other cards only. Empty where a site decided nothing.
 */
export function siteLine(rule: Rule, finding: Finding, context: CardContext): readonly string[] {
  const { governed, rulebook, evaluatedAt } = context;
  const words = rulebook.about.governance?.words;
  if (!governed || !words) return [];
  const settings = governed.rules.get(rule.id);
  const isHeld = settings !== undefined && holds(settings, evaluatedAt);
  const parts = [
    ...(finding.before ? [] : limitsTold(limitsOf(rule, finding), words, context)),
    ...(settings && !isHeld ? [filled(words.settingEnded, { date: formatDate(settings.until) })] : []),
    ...(isHeld && settings.note !== undefined ? [filled(words.note, { note: settings.note })] : []),
  ];
  return parts.length === 0 ? [] : [`${words.ofSite}: ${parts.join('; ')}.`];
}

/** The day after which a rule's cards say that a review is overdue: a site may set an earlier one. */
export function reviewDay(rule: Rule, { governed, evaluatedAt }: CardContext): string {
  const settings = governed?.rules.get(rule.id);
  const earlier = settings && holds(settings, evaluatedAt) ? settings.reviewBy : undefined;
  return earlier !== undefined && earlier < rule.reviewBy ? earlier : rule.reviewBy;
}

/** A limit of the site with that of the rulebook behind it; undefined where the site set none. */
export function localLimitText(parameter: Parameter, rulebook: CardContext['rulebook']): string | undefined {
  const shipped = rulebook.shippedLimits?.get(parameter.id);
  const words = rulebook.about.governance?.words;
  if (shipped === undefined || !words || typeof parameter.value !== 'number') return undefined;
  return filled(words.localValue, {
    local: formatDimension(parameter.value, parameter.unit),
    rulebook: formatDimension(shipped, parameter.unit),
  });
}

type Words = NonNullable<RulebookFile['governance']>['words'];

function limitsTold(
  ids: readonly string[],
  words: Words,
  { governed, rulebook, evaluatedAt }: CardContext,
): readonly string[] {
  return ids.flatMap((id) => {
    const limit = governed?.parameters.get(id);
    const parameter = rulebook.parameters.get(id);
    if (!limit || !parameter?.allowed) return [];
    const { unit, value, allowed } = parameter;
    const shipped = rulebook.shippedLimits?.get(id) ?? value;
    const told = filled(holds(limit, evaluatedAt) ? words.limit : words.limitEnded, {
      limit: allowed.says,
      local: formatDimension(limit.value, unit),
      rulebook: typeof shipped === 'number' ? formatDimension(shipped, unit) : '',
      date: formatDate(limit.until),
    });
    return [told];
  });
}

/** The parameters on which an outcome or a word of this card depends. */
function limitsOf(rule: Rule, finding: Finding): readonly string[] {
  const conditions = [
    rule.appliesWhen,
    rule.when,
    ...(finding.where ? [finding.where] : []),
    ...rule.named.values(),
  ];
  const words = wordsOf(finding).flatMap(placeholdersOf);
  return sortedUnique([...conditions.flatMap(conditionLimits), ...words]);
}

/** Puts values into words of the rulebook. */
function filled(words: string, values: Readonly<Record<string, string>>): string {
  return Object.entries(values).reduce(
    (text, [name, value]) => text.replaceAll(`{${name}}`, () => value),
    words,
  );
}
