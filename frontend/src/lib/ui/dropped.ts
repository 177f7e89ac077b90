import type { Attachment } from 'svelte/attachments';

/**
 * Takes files that are dropped on a node. `over` is told whether something is held
 * above it. Without this the browser would leave the app to open the file.
 */
export function dropped(take: (files: File[]) => void, over: (is: boolean) => void): Attachment<HTMLElement> {
  return (node) => {
    const listeners = new AbortController();
    const on = (type: 'dragover' | 'dragleave' | 'drop', work: (e: DragEvent) => void) =>
      node.addEventListener(type, work, { signal: listeners.signal });
    on('dragover', (e) => {
      e.preventDefault();
      over(true);
    });
    on('dragleave', (e) => {
      if (!node.contains(e.relatedTarget as Node | null)) over(false);
    });
    on('drop', (e) => {
      e.preventDefault();
      over(false);
      const files = [...(e.dataTransfer?.files ?? [])];
      if (files.length > 0) take(files);
    });
    return () => listeners.abort();
  };
}
