import { ago, knownTime, timeOf } from '$lib/figures';
import type { Given } from '$lib/state/event.svelte';

/** From when the screens are if another device's codes or file were the last word; empty: nobody knows when. */
export function sayGiven({ by, at }: Given, now: Date, zone: string): string {
  const date = knownTime(at);
  if (!date) return '';
  return `As ${by} gave it out at ${timeOf(date, now, zone)}, ${ago(date, now)}; the server has not answered since.`;
}
