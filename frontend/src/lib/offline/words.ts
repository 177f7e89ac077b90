/** What is unsent, said in words. */
import type { Status } from './sync';

const records = (n: number): string => (n === 1 ? '1 record' : `${n} records`);
const wait = (n: number): string => `${records(n)} ${n === 1 ? 'waits' : 'wait'}`;

/** One sentence about what is not on the server yet; it never asks for anything. */
export function sayUnsent(s: Status): string {
  const parts: string[] = [];
  if (s.waiting > 0) {
    switch (s.link) {
      case 'signed-out':
        if (s.apart)
          parts.push(`${wait(s.waiting)} here until your lead accepts ${s.waiting === 1 ? 'it' : 'them'}`);
        else parts.push(`${wait(s.waiting)} until you join again`);
        break;
      case 'outdated':
        parts.push(`${wait(s.waiting)} until this app is updated`);
        break;
      case 'full':
        parts.push(`${wait(s.waiting)}; the disk of this device is full`);
        break;
      case 'no-answer':
        parts.push(`${wait(s.waiting)} for a network`);
        break;
      default:
        parts.push(`Sending ${records(s.waiting)}`);
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
