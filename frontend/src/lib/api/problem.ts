import type { components } from './schema';

export type ProblemItem = components['schemas']['ProblemItem'];
type ProblemDocument = Partial<components['schemas']['Problem']>;

/**
 * The server's refusal, an RFC 9457 problem. `message` is a sentence for
 * people; `items` say each thing that is wrong, and where.
 */
export class Problem extends Error {
  override readonly name = 'Problem';
  readonly status: number;
  readonly type: string;
  readonly title: string;
  readonly items: ProblemItem[];
  /** Names the request in the server's log; for a 500 that is all there is to say. */
  readonly requestId: string | undefined;

  constructor(status: number, document: ProblemDocument) {
    const title = document.title || 'The server refused this';
    super(inWords(status, title, document.detail));
    this.status = status;
    this.type = document.type || 'about:blank';
    this.title = title;
    this.items = document.errors ?? [];
    this.requestId = document.request_id;
  }
}

/** No answer: no network, or the server is away. What was entered is still here. */
export class NoAnswer extends Error {
  override readonly name = 'NoAnswer';
  constructor(cause?: unknown) {
    super('No answer from the server: the network or the server is away. Nothing that you entered is lost.', {
      cause
    });
  }
}

/** An error of our own whose message is all that there is to say to people. */
export class Told extends Error {
  override readonly name = 'Told';
}

function inWords(status: number, title: string, detail?: string): string {
  if (detail) return detail;
  switch (status) {
    case 401:
      return 'You are not signed in here any more. Sign in or join again; what you recorded stays on this device.';
    case 429:
      return 'Too many tries. Wait a minute, then try again.';
    case 502:
    case 503:
    case 504:
      return 'The server is starting or busy. Try again in a moment.';
  }
  return `${title}.`;
}

/** Reads a refusal. A body that is no problem document (a proxy's page) gives the status in words. */
export async function readProblem(answer: Response): Promise<Problem> {
  const text = await answer.text().catch(() => '');
  try {
    const document: unknown = JSON.parse(text);
    if (document && typeof document === 'object' && !Array.isArray(document)) {
      return new Problem(answer.status, document);
    }
  } catch {
    // Not JSON: the status has to do.
  }
  const words = answer.statusText ? ` (${answer.statusText})` : '';
  return new Problem(answer.status, { title: `The server answered ${answer.status}${words}` });
}

/** Where a thing is wrong, as people write it: `matches.csv, line 12, column score`. */
export function sayPlace(item: ProblemItem): string {
  return [
    item.file,
    item.line ? `line ${item.line}` : undefined,
    item.column ? `column ${item.column}` : undefined,
    item.pointer,
    item.parameter
  ]
    .filter(Boolean)
    .join(', ');
}

/** A sentence for any error, for showing. */
export function sayError(error: unknown): string {
  if (error instanceof Problem) {
    const only = error.items.length === 1 ? error.items[0]?.message : undefined;
    return only && !error.message.includes(only)
      ? `${error.message.replace(/\.?$/, '')}: ${only}`
      : error.message;
  }
  if (error instanceof NoAnswer || error instanceof Told) return error.message;
  return error instanceof Error
    ? `Something went wrong here: ${error.message}`
    : 'Something went wrong here.';
}
