// Comma-separated values by RFC 4180, with the guard for cells that a
// spreadsheet would run as a formula: a leading apostrophe, which the import
// takes off again.

// RFC 4180 leaves open what else may stand in quotes. A leading space does, as
// in the server's files: some programs would drop it. (\s has U+FEFF, which is no
// space, and lacks U+0085, which is one.)
const quoted = /[",\r\n]|^(?!\ufeff)[\s\u0085]|^\\\.$/;
const formula = /^'*[=+\-@\t]/;

export function csvCell(value: string): string {
  const guarded = formula.test(value) ? `'${value}` : value;
  if (!quoted.test(guarded)) return guarded;
  return `"${guarded.replaceAll('"', '""').replaceAll('\r', '').replaceAll('\n', '\r\n')}"`;
}

/** The same bytes as the server's files: testdata/picklist. Every row ends with CR LF. */
export function csvText(rows: readonly (readonly string[])[]): string {
  return rows.map((row) => row.map(csvCell).join(',') + '\r\n').join('');
}
