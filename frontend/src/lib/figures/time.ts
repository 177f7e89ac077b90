// Times in the event's own zone, and how long ago something was.

const formats = new Map<string, Intl.DateTimeFormat>();

function format(zone: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = zone + JSON.stringify(options);
  let made = formats.get(key);
  if (!made) {
    try {
      made = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone });
    } catch {
      made = new Intl.DateTimeFormat('en-GB', options); // a zone this browser does not know
    }
    formats.set(key, made);
  }
  return made;
}

/** Go's zero time and an empty text mean "not known". */
export function knownTime(text: string | undefined | null): Date | undefined {
  if (!text) return undefined;
  const date = new Date(text);
  return Number.isNaN(date.getTime()) || date.getUTCFullYear() < 1900 ? undefined : date;
}

/** "14:32". */
export function clock(date: Date, zone: string): string {
  return format(zone, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(date);
}

/** "Fri". */
export function weekday(date: Date, zone: string): string {
  return format(zone, { weekday: 'short' }).format(date);
}

/** "Fri 6 March". */
export function day(date: Date, zone: string): string {
  return format(zone, { weekday: 'short', day: 'numeric', month: 'long' }).format(date);
}

/** "6 March 2031, 14:32". */
export function dayAndClock(date: Date, zone: string): string {
  const date1 = format(zone, { day: 'numeric', month: 'long', year: 'numeric' }).format(date);
  return `${date1}, ${clock(date, zone)}`;
}

/** "14:32" if that was today, "6 March 2031, 14:32" otherwise. */
export function timeOf(date: Date, now: Date, zone = 'UTC'): string {
  return day(date, zone) === day(now, zone) ? clock(date, zone) : dayAndClock(date, zone);
}

/** "just now", "4 min ago", "3 h ago", "2 days ago"; a future time is "just now". */
export function ago(date: Date, now: Date): string {
  const minutes = Math.floor((now.getTime() - date.getTime()) / 60_000);
  if (minutes < 1) return 'just now';
  if (minutes < 60) return `${minutes} min ago`;
  const hours = Math.floor(minutes / 60);
  if (hours < 24) return `${hours} h ago`;
  const days = Math.floor(hours / 24);
  return days === 1 ? '1 day ago' : `${days} days ago`;
}

/**
 * From when an answer of the analysis is: "Estimates from 14:32, 3 min ago."
 * An answer that is older than the newest records says that it will change.
 */
export function asOf(
  what: string,
  kept: { at: string | undefined; current: boolean | undefined; failed: boolean },
  now: Date,
  zone: string
): string {
  const at = knownTime(kept.at);
  if (!at) return kept.failed ? `${what} could not be fetched: no answer from the server.` : '';
  const age = ago(at, now);
  const when = age === 'just now' ? `${what} from just now` : `${what} from ${clock(at, zone)}, ${age}`;
  if (kept.failed) return `${when}; the server does not answer, so they may be old.`;
  return kept.current === false ? `${when}; newer entries are being worked in.` : `${when}.`;
}
