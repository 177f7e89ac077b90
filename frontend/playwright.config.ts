import { defineConfig } from '@playwright/test';

export default defineConfig({
  testDir: 'e2e',
  testMatch: '**/*.spec.ts',
  globalSetup: './e2e/build.ts',
  outputDir: 'test-results',
  // Each worker starts a server with a database of its own.
  workers: 1,
  timeout: 90_000,
  expect: { timeout: 15_000 },
  forbidOnly: Boolean(process.env.CI),
  reporter: 'list',
  use: {
    browserName: 'chromium',
    // Pictures of every step would be most of a test's time.
    trace: { mode: 'retain-on-failure', screenshots: false, snapshots: true },
    launchOptions: {
      executablePath: process.env.SEXTANT_CHROMIUM ?? '/usr/bin/chromium-headless-shell',
      args: [
        '--no-sandbox',
        '--disable-gpu',
        '--disable-quic',
        '--no-first-run',
        '--disable-background-networking',
        '--disable-component-update',
        '--disable-sync'
      ]
    }
  }
});
