// Team numbers are text: digits, and a letter for a second robot ("40117B").

const form = /^([1-9][0-9]{0,4})([A-Z]?)$/;

export function isTeam(text: string): boolean {
  return form.test(text);
}

/** Orders team numbers by number, then by letter. What is no team number comes first. */
export function compareTeams(a: string, b: string): number {
  const x = form.exec(a);
  const y = form.exec(b);
  const number = Number(x?.[1] ?? 0) - Number(y?.[1] ?? 0);
  if (number !== 0) return number;
  const p = x?.[2] ?? a;
  const q = y?.[2] ?? b;
  return p < q ? -1 : p > q ? 1 : 0;
}

const fold = (text: string) => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();

/** Whether a typed text means this team: its number from the start, or a part of its name. */
export function meansTeam(text: string, team: string, name = ''): boolean {
  const wanted = fold(text.trim());
  return fold(team).startsWith(wanted) || fold(name).includes(wanted);
}
