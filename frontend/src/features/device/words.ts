// What this device says about itself.

import type { Space, Status } from '$lib/offline';

/** The first line: is everything safe? */
export function sayReady(status: Status, space: Space | undefined): string {
  const records = status.waiting + status.refused + status.others.reduce((n, o) => n + o.records, 0);
  const photos = status.photos ?? 0;
  if (records + photos === 0) return 'Everything that was recorded here is on the server too.';
  const parts = [
    records === 0 ? '' : records === 1 ? 'One record' : `${records} records`,
    photos === 0 ? '' : photos > 1 ? `${photos} photos` : records > 0 ? 'one photo' : 'One photo'
  ];
  const what = `${parts.filter(Boolean).join(' and ')} ${records + photos === 1 ? 'is' : 'are'}`;
  if (space?.kept) return `${what} on this device alone, and kept until sent.`;
  return `${what} on this device alone.`;
}

/** What somebody has to do before records go out again; empty: nothing. */
export function sayWhatToDo(status: Status): string {
  switch (status.link) {
    case 'signed-out':
      if (status.apart)
        return 'Your lead signed this device out. What it sent since is kept apart until your lead accepts it (Set-up, People), and all of it stays here too. Ask your lead, also for a new code.';
      return 'This device is not signed in to the event any more: its time has ended, or the lead took it out. Everything that was recorded stays here. Ask your lead for a code, or save what is unsent as a file and give it to your lead.';
    case 'outdated':
      return 'This app and the server do not speak the same protocol. Load the app again while there is a network; if that does not help, the server is the older one: ask your lead to update it. Everything that was recorded stays here.';
    case 'full':
      return status.reason ?? '';
  }
  return '';
}

/** Whether the app itself is on this device. */
export type Shell = 'ready' | 'not-yet' | 'insecure';

export function sayShell(shell: Shell): string {
  switch (shell) {
    case 'ready':
      return 'Here: it opens and records without a network.';
    case 'not-yet':
      return 'Missing: keep this page open for a moment while there is a network.';
    case 'insecure':
      return 'Missing: this address is not secure (no https), so the app does not stay on this device. Keep the page open, and do not load it again without a network.';
  }
}
