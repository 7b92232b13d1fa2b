/** Where in the service a call goes; its paths stand below this one. */
export type Root = '/cds-services' | '/fhir';

/**
 * The audiences of which a token for this endpoint must name one: the URL of the endpoint, as CDS Hooks asks. They are
 * compared as strings, without normalizing (RFC 7519, section 2): a trailing slash, another case or a port written out
 * makes another audience. Feedback, for which CDS Hooks names none, takes its own URL or that of its service; the FHIR
 * endpoint takes its base, but an operation takes only its own URL.
 */
export function audiencesOf(publicUrl: string, root: Root, path: string): readonly string[] {
  const below = path.split('/').filter((segment) => segment !== '');
  const [first] = below;
  if (root === '/fhir') {
    const operation = decoded(below.at(-1) ?? '');
    return [operation.startsWith('$') ? `${publicUrl}${root}/${operation}` : `${publicUrl}${root}`];
  }
  if (first === undefined) return [`${publicUrl}${root}`];
  const service = `${publicUrl}${root}/${first}`;
  return below[1] === 'feedback' ? [`${service}/feedback`, service] : [service];
}

function decoded(segment: string): string {
  try {
    return decodeURIComponent(segment);
  } catch {
    return segment;
  }
}
