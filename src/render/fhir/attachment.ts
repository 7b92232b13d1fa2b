import type { Attachment } from 'fhir/r4.js';

/** JSON as the content of a resource. */
export function jsonAttachment(contentType: string, title: string, content: unknown): Attachment {
  const bytes = new TextEncoder().encode(JSON.stringify(content));
  // btoa takes one character for each byte.
  const characters = Array.from(bytes, (byte) => String.fromCharCode(byte)).join('');
  return { contentType, title, size: bytes.length, data: btoa(characters) };
}
