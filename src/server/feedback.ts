import type { Request, Response } from 'express';
import { publishedServices } from '../advice/index.js';
import { issue } from '../base/result.js';
import type { FeedbackItem } from '../store/store.js';
import type { ServiceParts } from './app.js';
import { callerOf } from './auth/caller.js';
import { readFeedback } from './feedback-request.js';
import { arrivedAt, withRequestLog } from './operations/arrival.js';
import { answerProblem } from './problems.js';
import { failureOf } from './store-failure.js';

/**
 * Takes what clinicians did with cards. The answer is `200 {}`, sent only when all of it is durable, so that whoever
 * was told can forget it; anything else means: send all of it again, nothing is ever kept twice.
 */
export function answerFeedback(running: ServiceParts) {
  return async (request: Request, response: Response): Promise<void> => {
    const parts = withRequestLog(running, response);
    const started = arrivedAt(response);
    const services = publishedServices(parts.config.distinctIds);
    const service = services.find(({ id }) => id === String(request.params['id']))?.id;
    if (service === undefined) {
      answerProblem(response, [
        issue('unknown-service', '', 'expected an id of the discovery document, found another'),
      ]);
      return;
    }
    const read = readFeedback(request.body, {
      iss: callerOf(response).iss,
      service,
      receivedAt: parts.now().toISOString(),
      strict: parts.config.strict,
    });
    if (!read.ok) {
      answerProblem(response, read.issues);
      const codes = [...new Set(read.issues.map(({ code }) => code))];
      parts.log.info({ service, status: response.statusCode, issues: codes }, 'feedback');
      return;
    }
    const { items, leniencies } = read.value;
    const kept = await keep(items, parts);
    if (kept) response.json({});
    else answerProblem(response, [issue('not-stored', '', 'expected to keep the feedback, could not')]);
    const ms = Math.round((performance.now() - started) * 100) / 100;
    parts.log.info({ service, status: response.statusCode, ...countsOf(items), leniencies, ms }, 'feedback');
    if (kept) await countByRule(items, parts);
    else parts.metrics.notStored('feedback');
  };
}

/** Counts answers by the rule of the card; which rule that was is asked for after the client has its answer. */
async function countByRule(items: readonly FeedbackItem[], parts: ServiceParts): Promise<void> {
  const { store, metrics, log } = parts;
  const { rulebook } = parts.installation().advisor;
  try {
    const rules = await store.rulesOfCards(items.map(({ card }) => card));
    for (const item of items) metrics.feedback(item, rules.get(item.card), rulebook);
  } catch (error) {
    log.error(failureOf(error), 'feedback could not be counted by rule');
  }
}

async function keep(items: readonly FeedbackItem[], { store, log }: ServiceParts): Promise<boolean> {
  try {
    await store.saveFeedback(items);
    return true;
  } catch (error) {
    log.error(failureOf(error), 'feedback could not be kept');
    return false;
  }
}

/** All that a log may hold of feedback. */
function countsOf(items: readonly FeedbackItem[]): Readonly<Record<string, number>> {
  return {
    items: items.length,
    accepted: items.filter(({ outcome }) => outcome === 'accepted').length,
    overridden: items.filter(({ outcome }) => outcome === 'overridden').length,
    reasons: items.filter(({ reason }) => reason !== undefined).length,
    comments: items.filter(({ comment }) => comment !== undefined).length,
  };
}
