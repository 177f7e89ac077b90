/** So long a browser may take to read what it saves. */
const READ_MS = 60_000;

/** Gives the person a file under a name, where the browser keeps what it saves. */
export function saveFile(name: string, content: Blob): void {
  const url = URL.createObjectURL(content);
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), READ_MS);
}
