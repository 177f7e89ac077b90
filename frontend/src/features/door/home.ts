import type { Session } from '$lib/api';

/** Where a session starts: a scout watches, lead and coach look at today, an account chooses an event. */
export function homeOf(session: Session | undefined): string {
  if (session?.event_id) {
    return session.role === 'scout' ? `/e/${session.event_id}/watch` : `/e/${session.event_id}`;
  }
  if (session?.account) {
    const [only] = session.events;
    return only && session.events.length === 1 ? `/e/${only.event_id}` : '/events';
  }
  return '/sign-in';
}
