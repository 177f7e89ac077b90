/**
 * The secret that stands behind # in a link. A fragment never reaches a server
 * or its log; it is taken off the address bar and the history at once, so that
 * nobody reads it over a shoulder or goes back to it.
 */
export function takeFragment(): string {
  const secret = decode(location.hash.replace(/^#/, ''));
  if (location.hash) history.replaceState(history.state, '', location.pathname + location.search);
  return secret;
}

function decode(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text; // a stray % of a cut-off link
  }
}
