/** The time of day as state, for "3 min ago": moves every half minute while somebody looks. */
import { createSubscriber } from 'svelte/reactivity';

const subscribe = createSubscriber((update) => {
  const timer = setInterval(update, 30_000);
  return () => clearInterval(timer);
});

export function now(): Date {
  subscribe();
  return new Date();
}
