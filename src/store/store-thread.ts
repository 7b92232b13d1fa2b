import { parentPort, workerData } from 'node:worker_threads';
import type { DecisionContent } from './decision-content.js';
import { openStore } from './open-store.js';
import type { StoreSettings } from './open-store.js';
import { failureFrom } from './store-message.js';
import type { FromStore, ThreadData, ToStore } from './store-message.js';
import type { DecisionRecord, Store } from './store.js';

/** The thread of a store: does what it is asked and says what came of it. */

function settingsOf({ isWarned, ...settings }: ThreadData, say: (message: FromStore) => void): StoreSettings {
  return { ...settings, ...(isWarned && { warn: (faults) => say({ kind: 'warned', faults }) }) };
}

async function work(store: Store, message: ToStore): Promise<unknown> {
  switch (message.ask) {
    case 'saveDecision': {
      const { record, content } = message.texts;
      await store.saveDecision(
        JSON.parse(record) as DecisionRecord,
        content && {
          call: JSON.parse(content.call) as DecisionContent['call'],
          cards: JSON.parse(content.cards) as DecisionContent['cards'],
          ...(content.sent && { sent: content.sent }),
        },
      );
      return;
    }
    case 'saveFeedback': {
      await store.saveFeedback(...message.given);
      return;
    }
    case 'saveDifference': {
      await store.saveDifference(...message.given);
      return;
    }
    case 'acknowledgedBy':
      return await store.acknowledgedBy(...message.given);
    case 'rulesOfCards':
      return await store.rulesOfCards(...message.given);
    case 'rememberToken':
      return await store.rememberToken(...message.given);
    case 'prune':
      return await store.prune(...message.given);
    case 'ping': {
      await store.ping();
      return;
    }
    case 'close': {
      await store.close();
      return;
    }
  }
}

async function serve(): Promise<void> {
  const port = parentPort;
  if (!port) throw new Error('a store runs in a thread of its own');
  const say = (message: FromStore): void => {
    port.postMessage(message);
  };
  let store: Store;
  try {
    store = await openStore(settingsOf(workerData as ThreadData, say));
  } catch (error) {
    say({ kind: 'refused', failure: failureFrom(error) });
    return;
  }
  port.on('message', (message: ToStore) => {
    void work(store, message).then(
      (value) => say({ kind: 'done', id: message.id, value }),
      (error: unknown) => say({ kind: 'failed', id: message.id, failure: failureFrom(error) }),
    );
  });
  say({ kind: 'opened' });
}

await serve();
