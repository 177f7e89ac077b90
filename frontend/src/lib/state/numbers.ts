/** Match and team numbers as people type them. */

/** `q 12` → `Q12`; undefined: no match. */
export function readMatch(text: string): string | undefined {
  const found = /^([WQPF])\s*([1-9]\d{0,3})$/i.exec(text.trim());
  return found ? `${found[1]?.toUpperCase()}${found[2]}` : undefined;
}

/** A team number, its letter large; undefined: none. */
export function readTeam(text: string): string | undefined {
  const team = text.trim().toUpperCase();
  return /^[1-9]\d{0,4}[A-Z]?$/.test(team) ? team : undefined;
}
