// Comma-separated values by RFC 4180, with the guard for cells that a
// spreadsheet would run as a formula: a leading apostrophe, which the import
// takes off again.

const quoted = /[",\r\n]/;
const formula = /^'*[=+\-@\t]/;

export function csvCell(value: string): string {
  const guarded = formula.test(value) ? `'${value}` : value;
  return quoted.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}

/** Rows end with CRLF only inside RFC 4180's own text; the server writes LF, so we do. */
export function csvText(rows: readonly (readonly string[])[]): string {
  return rows.map((row) => row.map(csvCell).join(',') + '\n').join('');
}
