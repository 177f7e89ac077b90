import { sveltekit } from '@sveltejs/kit/vite';
import { defineConfig } from 'vitest/config';

// The program that answers /api while the pages come from the dev server.
const server = process.env.SEXTANT_DEV_SERVER ?? 'http://127.0.0.1:4180';

export default defineConfig({
  plugins: [sveltekit()],
  build: { target: 'es2022', rolldownOptions: { checks: { bundlerTimings: false } } },
  server: { proxy: { '/api': { target: server, changeOrigin: false } } },
  preview: { proxy: { '/api': { target: server, changeOrigin: false } } },
  // Svelte's server build is chosen without this, and components cannot mount.
  resolve: process.env.VITEST ? { conditions: ['browser'] } : undefined,
  test: {
    include: ['src/**/*.test.ts'],
    environment: 'jsdom',
    // A DOM for each file would be most of the time; files are in any order and leave nothing behind.
    isolate: false,
    setupFiles: ['src/test-setup.ts']
  }
});
