/** What axe-core finds on a page, in light and dark. */
import { expect, type Page } from '@playwright/test';
import type { AxeResults } from 'axe-core';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Dark changes colours and nothing else, so only what looks at them is asked again. */
const RUN = {
  light: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'],
  dark: ['color-contrast', 'link-in-text-block']
};

/** Fails on any fault by WCAG 2.2 A and AA that axe-core finds. */
export async function check(page: Page, what: string): Promise<void> {
  // Not a script tag: the page's own policy forbids those.
  await page.evaluate(source);
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme, reducedMotion: 'reduce' });
    const { violations } = await page.evaluate(
      (runOnly) =>
        (window as unknown as { axe: { run: (options: object) => Promise<AxeResults> } }).axe.run({
          runOnly
        }),
      RUN[colorScheme]
    );
    const found = violations.flatMap((v) =>
      v.nodes.map((n) => `${v.id}: ${n.target.join(' ')}: ${n.failureSummary?.split('\n')[1]?.trim()}`)
    );
    expect(found, `${what}, ${colorScheme}`).toEqual([]);
  }
}
