import { describe, expect, it } from 'vitest';
import { readConfig } from '../../../src/server/config.js';
import { startFhirServer } from '../../fhir-server/fhir-server.js';
import { accessTo } from '../../server/record-calls.js';
import { ORDER_PATH, PATIENT, testApp, cardsOf, post } from '../../server/test-service.js';
import { speakingCall } from './answers.js';

describe('the time of an answer', () => {
  it('[N1] is not that of the record system: reading stops before half a second is over, and the answer comes', async () => {
    const { fhirBudgetMs } = readConfig({});
    // Truth: CDS Hooks 2.0.1: services should answer within about 500 ms.
    expect(fhirBudgetMs).toBeLessThan(500);
    const server = await startFhirServer([PATIENT], { latencyMs: 60_000 });
    try {
      const [, { prefetch, ...call }] = speakingCall('order-sign');
      expect(Object.keys(prefetch)).not.toEqual([]);
      const service = testApp({ fhirServers: [server.base], fhirBudgetMs });
      // Would wait a minute, far beyond what this test is given, if nothing cut it off.
      const cards = cardsOf(await post(service, ORDER_PATH, { ...call, ...accessTo(server.base) }));
      expect(cards.map(({ source }) => source.topic.code)).toEqual(['data-gap']);
    } finally {
      await server.stop();
    }
  });
});
