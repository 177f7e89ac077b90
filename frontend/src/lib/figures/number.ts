// Numbers as people read them: one decimal, a real minus sign, a no-break
// space before the percent sign. A value that is not known is a dash, never a zero.

export const unknown = '–';

const gap = '\u00a0';

/** "31.2", "−0.4"; never "−0.0". */
export function fixed(value: number | null | undefined, digits = 1): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return unknown;
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

/** "+3.1", "−3.1", "0.0". */
export function signed(value: number | null | undefined, digits = 1): string {
  const text = fixed(value, digits);
  return text !== unknown && Number(value) > 0 && Number(text) !== 0 ? `+${text}` : text;
}

/** A share of 1 as "64 %". Shares that are not exactly 0 or 1 never show as such. */
export function percent(share: number | null | undefined): string {
  if (share === null || share === undefined || !Number.isFinite(share)) return unknown;
  const clipped = Math.min(1, Math.max(0, share));
  const whole = Math.round(clipped * 100);
  if (whole === 0 && clipped > 0) return `<1${gap}%`;
  if (whole === 100 && clipped < 1) return `>99${gap}%`;
  return `${whole}${gap}%`;
}

/** "one record", "3 records". */
export function counted(n: number, one: string, many = `${one}s`): string {
  return n === 1 ? `1 ${one}` : `${n} ${many}`;
}

const small = ['none', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine'];

/** The first letter large, as at the start of a sentence. */
export const capital = (text: string): string => text.replace(/^./, (c) => c.toUpperCase());

/** Numbers below ten as words, for sentences. */
export function inWords(n: number): string {
  return (Number.isInteger(n) ? small[n] : undefined) ?? String(n);
}

/** "40101, 40102 and 40103". */
export function listed(items: readonly string[]): string {
  if (items.length < 2) return items.join('');
  return `${items.slice(0, -1).join(', ')} and ${items[items.length - 1]}`;
}

/** "1st", "12th", "23rd". */
export function ordinal(n: number): string {
  const tens = n % 100;
  const end = tens >= 11 && tens <= 13 ? 'th' : (['th', 'st', 'nd', 'rd'][n % 10] ?? 'th');
  return `${n}${end}`;
}
