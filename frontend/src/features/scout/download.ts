import { asFile, type Unsent } from '$lib/offline';
import { saveFile } from '$lib/ui/save-file';

/** Gives unsent records to the person as a file. */
export const download = (name: string, items: Unsent[]): void =>
  saveFile(name, new Blob([asFile(items)], { type: 'application/x-ndjson' }));
