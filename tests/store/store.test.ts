import { openStore } from '../../src/store/open-store.js';
import { describeDatabases } from './databases.js';
import { TEST_KEY } from './records.js';
import { describeStore } from './store-suite.js';

describeDatabases('the store', ({ kind, empty }) => {
  describeStore(kind, async () => openStore({ path: await empty(), contentKey: TEST_KEY }));
});
