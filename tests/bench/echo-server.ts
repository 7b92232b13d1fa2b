import express from 'express';

/** The baseline: an Express endpoint that parses a JSON body and sends it back. */
const app = express();
app.disable('x-powered-by');
app.disable('etag');
app.post('/echo', express.json({ limit: 16 * 1024 * 1024 }), (request, response) => {
  response.type('json').send(JSON.stringify(request.body));
});
const server = app.listen(0, '127.0.0.1', () => {
  const address = server.address();
  process.stdout.write(`${typeof address === 'object' && address ? address.port : ''}\n`);
});
