/** Times on the venue's clock, for inputs of type datetime-local. */

/** `2031-03-06T09:00` on the clock of the zone. */
export function localText(at: Date, zone: string): string {
  const parts = new Intl.DateTimeFormat('en-GB', {
    timeZone: zone,
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23'
  }).formatToParts(at);
  const part = (type: string) => parts.find((p) => p.type === type)?.value ?? '';
  return `${part('year')}-${part('month')}-${part('day')}T${part('hour')}:${part('minute')}`;
}

/**
 * The instant at which the zone's clock shows the text; undefined: it is no
 * time. Of an hour that a clock shows twice it is the later one; one that it
 * skips counts on from before the jump.
 */
export function instantOf(text: string, zone: string): Date | undefined {
  const asUTC = Date.parse(`${text}Z`);
  if (Number.isNaN(asUTC)) return undefined;
  const offset = (at: number) =>
    Date.parse(`${localText(new Date(at), zone)}Z`) - Math.floor(at / 60_000) * 60_000;
  // The offset at the instant itself, found in two steps across a change of clocks.
  const first = asUTC - offset(asUTC);
  return new Date(asUTC - offset(first));
}
