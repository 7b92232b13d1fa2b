import express from 'express';

/**
 * The baselines: an Express endpoint that parses a JSON body and sends it back, and one that first makes the reads
 * given on the command line, six at a time, and parses what comes.
 */
const [base = '', ...reads] = process.argv.slice(2);
const LANES = 6;

const app = express();
app.disable('x-powered-by');
app.disable('etag');
const body = express.json({ limit: 16 * 1024 * 1024 });
app.post('/echo', body, (request, response) => {
  response.type('json').send(JSON.stringify(request.body));
});
app.post('/echo-after-reads', body, async (request, response) => {
  const waiting = [...reads];
  const lane = async (): Promise<void> => {
    for (let next = waiting.shift(); next !== undefined; next = waiting.shift())
      await (await fetch(`${base}/${next}`, { headers: { accept: 'application/fhir+json' } })).json();
  };
  await Promise.all(Array.from({ length: LANES }, lane));
  response.type('json').send(JSON.stringify(request.body));
});
const server = app.listen(0, '127.0.0.1', () => {
  const address = server.address();
  process.stdout.write(`${typeof address === 'object' && address ? address.port : ''}\n`);
});
