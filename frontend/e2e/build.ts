/** Builds the app and the program around it once, before all end-to-end tests. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

export default function build(): (() => void) | undefined {
  // Whoever has just built it says where it is.
  if (process.env.SEXTANT_E2E_BINARY) return undefined;
  const folder = mkdtempSync(join(tmpdir(), 'sextant-e2e-'));
  const binary = join(folder, 'sextant');
  execFileSync('npm', ['run', '--silent', 'build'], { stdio: ['ignore', 'ignore', 'inherit'] });
  execFileSync('go', ['build', '-o', binary, './cmd/sextant'], { cwd: resolve('..'), stdio: 'inherit' });
  process.env.SEXTANT_E2E_BINARY = binary;
  return () => {
    rmSync(folder, { recursive: true, force: true });
    delete process.env.SEXTANT_E2E_BINARY;
  };
}
