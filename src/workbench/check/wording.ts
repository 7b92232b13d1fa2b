/**
 * Words that no rule uses, as the project's safety and card rules have them: advice and no orders, no probabilities,
 * no clearance. Lists are ours; what they stand for is not.
 */

/** A sentence that begins like this is a command. */
export const COMMANDS =
  /^(use|change|do|do not|don't|avoid|must|never|always|should|place|choose|select|switch|reduce|increase|order|stop|replace|insert|perform|give|implant|lower|raise)\b/i;

/** Words that oblige, wherever they stand. */
export const OBLIGATIONS = /\b(must|should|required to|shall|have to|needs to)\b/i;

/** Probabilities, scores and promises. That no safe limit is known may be said. */
export const PROMISES =
  /\b(probab|likelihood|chance|scor|predict|risk of \d|high[- ]risk hip|low[- ]risk|(?<!\bno )safe\b|guarantee)/i;

/** What silence must never be taken for. */
export const CLEARANCE = /\b(is safe|is stable|cleared|no concern|normal)\b/i;

/** Most characters of a summary, the hip and construct before it included. */
export const LONGEST_SUMMARY = 110;

/** Most words of the five lines of a card. */
export const MOST_WORDS = 90;
