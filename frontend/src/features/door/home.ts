import type { Session } from '$lib/api';

/** Where a session starts: a scout watches, a lead or coach sees the matches, an account chooses an event. */
export function homeOf(session: Session | undefined): string {
  if (!session) return '/sign-in';
  if (session.event_id) {
    return session.role === 'scout' ? `/e/${session.event_id}/watch` : `/e/${session.event_id}/matches`;
  }
  if (session.account) {
    const [only] = session.events;
    return only && session.events.length === 1 ? `/e/${only.event_id}/matches` : '/events';
  }
  return '/sign-in';
}
