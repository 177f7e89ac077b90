/** What is unsent, said in words. */
import type { Status } from './sync';

const records = (n: number): string => (n === 1 ? '1 record' : `${n} records`);
const photos = (n: number): string => (n === 1 ? '1 photo' : `${n} photos`);

/** One sentence about what is not on the server yet; it never asks for anything. */
export function sayUnsent(s: Status): string {
  const parts: string[] = [];
  const pictures = s.photos ?? 0;
  const all = s.waiting + pictures;
  const what = [s.waiting > 0 ? records(s.waiting) : '', pictures > 0 ? photos(pictures) : '']
    .filter(Boolean)
    .join(' and ');
  const waits = `${what} ${all === 1 ? 'waits' : 'wait'}`;
  if (all > 0) {
    switch (s.link) {
      case 'signed-out':
        if (s.apart) parts.push(`${waits} here until your lead accepts ${all === 1 ? 'it' : 'them'}`);
        else parts.push(`${waits} until you join again`);
        break;
      case 'outdated':
        parts.push(`${waits} until this app is updated`);
        break;
      case 'full':
        parts.push(`${waits}; the disk of this device is full`);
        break;
      case 'no-answer':
        parts.push(`${waits} for a network`);
        break;
      default:
        parts.push(`Sending ${what}`);
    }
  }
  if (s.refused > 0) parts.push(`${records(s.refused)} ${s.refused === 1 ? 'was' : 'were'} refused`);
  for (const o of s.others)
    parts.push(
      `${records(o.records)} of ${o.nickname} ${o.records === 1 ? 'waits' : 'wait'} until ${o.nickname} joins here again`
    );
  if (parts.length > 0) return parts.join('; ');
  switch (s.link) {
    case 'no-answer':
      return 'No network; nothing waits';
    case 'signed-out':
      return 'Signed out; nothing waits';
    case 'outdated':
      return 'This app is too old or too new for the server';
    case 'full':
      return 'The disk of this device is full: nothing new fits';
    case 'starting':
      return '';
  }
  return 'Everything is stored';
}
