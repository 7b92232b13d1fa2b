/** The first place at which a text stops being JSON. Lines and columns count from 1. */
export interface JsonFault {
  readonly line: number;
  readonly column: number;
  readonly expected: string;
  readonly found: string;
}

/**
 * Finds where a text stops being JSON; undefined when it is JSON. Of what stands there one character is told, no more:
 * it may be a patient's.
 *
 * Source: RFC 8259. Checked: tests/workbench/evaluate/json-fault.test.ts, beside JSON.parse on mutated texts.
 */
export function jsonFault(text: string): JsonFault | undefined {
  const fault = new Scanner(text).scan();
  if (fault === undefined) return undefined;
  const before = text.slice(0, fault.at);
  const line = before.split('\n').length;
  const column = fault.at - before.lastIndexOf('\n');
  return { line, column, expected: fault.expected, found: characterAt(text, fault.at) };
}

function characterAt(text: string, at: number): string {
  const code = text.codePointAt(at);
  if (code === undefined) return 'the end';
  if (code < 0x20) return code === 0x0a ? 'the end of the line' : `control character ${code}`;
  return String.fromCodePoint(code);
}

interface Stop {
  readonly at: number;
  readonly expected: string;
}

const BLANK = /[ \t\n\r]*/y;
const NUMBER = /-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?/y;
const ESCAPE = /\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4})/y;

/** A character that stands in a text for itself; the end is none. */
function isPlain(code: number): boolean {
  return code >= 0x20 && code !== 0x22 && code !== 0x5c;
}

type Container = 'object' | 'list';

/** One pass without recursion, so that nesting has no limit. */
class Scanner {
  private at = 0;
  private readonly open: Container[] = [];

  constructor(private readonly text: string) {}

  scan(): Stop | undefined {
    for (;;) {
      const value = this.value();
      if (value === 'opened') continue;
      if (value) return value;
      const end = this.closings();
      if (end === 'next') continue;
      return end === 'done' ? undefined : end;
    }
  }

  /** A value: a scalar or empty container passed over, a container opened up to its first value, or a stop. */
  private value(): Stop | 'opened' | undefined {
    this.match(BLANK);
    const first = this.text[this.at];
    if (first === '{') return this.opened('object', '}');
    if (first === '[') return this.opened('list', ']');
    if (first === '"') return this.string();
    for (const word of ['true', 'false', 'null']) {
      if (!this.text.startsWith(word, this.at)) continue;
      this.at += word.length;
      return undefined;
    }
    return this.match(NUMBER) ? undefined : this.stop('a value');
  }

  private opened(kind: Container, end: string): Stop | 'opened' | undefined {
    this.at += 1;
    this.match(BLANK);
    if (this.text[this.at] === end) {
      this.at += 1;
      return undefined;
    }
    this.open.push(kind);
    return (kind === 'object' ? this.name('a member name in double quotes or }') : undefined) ?? 'opened';
  }

  /** What follows a value: ends of containers, then the next value, the end of the text, or a stop. */
  private closings(): Stop | 'next' | 'done' {
    for (;;) {
      this.match(BLANK);
      const kind = this.open.at(-1);
      if (kind === undefined) return this.at === this.text.length ? 'done' : this.stop('nothing more');
      const end = kind === 'object' ? '}' : ']';
      const here = this.text[this.at];
      if (here !== ',' && here !== end) return this.stop(`a comma or ${end}`);
      this.at += 1;
      if (here === ',')
        return (kind === 'object' ? this.name('a member name in double quotes') : undefined) ?? 'next';
      this.open.pop();
    }
  }

  private name(expected: string): Stop | undefined {
    this.match(BLANK);
    if (this.text[this.at] !== '"') return this.stop(expected);
    const broken = this.string();
    if (broken) return broken;
    this.match(BLANK);
    if (this.text[this.at] !== ':') return this.stop('a colon');
    this.at += 1;
    return undefined;
  }

  private string(): Stop | undefined {
    this.at += 1;
    for (;;) {
      while (isPlain(this.text.charCodeAt(this.at))) this.at += 1;
      const here = this.text[this.at];
      if (here === '"') {
        this.at += 1;
        return undefined;
      }
      if (here !== '\\') return this.stop('the closing double quote of a text');
      if (!this.match(ESCAPE)) return this.stop('an escape that JSON knows');
    }
  }

  private match(pattern: RegExp): boolean {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    if (!found) return false;
    this.at += found[0].length;
    return true;
  }

  private stop(expected: string): Stop {
    return { at: this.at, expected };
  }
}
