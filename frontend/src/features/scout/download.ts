import { asFile, type Unsent } from '$lib/offline';

/** Gives unsent records to the person as a file. */
export function download(name: string, items: Unsent[]): void {
  const url = URL.createObjectURL(new Blob([asFile(items)], { type: 'application/x-ndjson' }));
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}
