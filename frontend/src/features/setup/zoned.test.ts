import { describe, expect, it } from 'vitest';
import { instantOf, localText } from './zoned';

// Clock changes as in the IANA time zone database: Chicago went from UTC−6 to
// UTC−5 on 8 March 2026 at 02:00 local, Kathmandu is UTC+05:45 all year.
describe('times on the clock of the venue', () => {
  it.each([
    ['2031-01-06T09:00', 'America/Chicago', '2031-01-06T15:00:00.000Z'],
    ['2026-07-06T09:00', 'America/Chicago', '2026-07-06T14:00:00.000Z'],
    ['2026-03-08T01:59', 'America/Chicago', '2026-03-08T07:59:00.000Z'],
    ['2026-03-08T03:00', 'America/Chicago', '2026-03-08T08:00:00.000Z'],
    ['2031-03-06T09:00', 'Asia/Kathmandu', '2031-03-06T03:15:00.000Z'],
    ['2031-03-06T00:00', 'Etc/UTC', '2031-03-06T00:00:00.000Z']
  ])('%s in %s is %s', (text, zone, instant) => {
    expect(instantOf(text, zone)?.toISOString()).toBe(instant);
    expect(localText(new Date(instant), zone)).toBe(text);
  });

  it('knows what is no time', () => {
    expect(instantOf('tomorrow', 'Etc/UTC')).toBeUndefined();
  });
});
