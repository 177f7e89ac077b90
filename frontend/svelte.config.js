import adapter from '@sveltejs/adapter-static';
import { vitePreprocess } from '@sveltejs/vite-plugin-svelte';

/** @type {import('@sveltejs/kit').Config} */
export default {
  preprocess: vitePreprocess(),
  compilerOptions: { runes: ({ filename }) => (filename.includes('node_modules') ? undefined : true) },
  kit: {
    // One page that the Go program serves for every path; the routes run in the browser only.
    adapter: adapter({ pages: 'dist', assets: 'dist', fallback: 'index.html' }),
    paths: { relative: false },
    typescript: {
      // The end-to-end tests are checked too.
      config: (config) => ({
        ...config,
        include: [...config.include, '../e2e/**/*.ts', '../playwright.config.ts']
      })
    },
    alias: { $features: 'src/features' },
    // The app registers its worker itself, so that a new version waits for a yes (src/lib/state/update.svelte.ts).
    serviceWorker: { register: false },
    csp: {
      mode: 'hash',
      // frame-ancestors and the like cannot stand in a meta tag: the server sends them as headers.
      directives: {
        'default-src': ['none'],
        'script-src': ['self', 'wasm-unsafe-eval'],
        'style-src': ['self', 'unsafe-inline'],
        'img-src': ['self', 'data:', 'blob:'],
        'font-src': ['self'],
        'connect-src': ['self'],
        'worker-src': ['self'],
        'manifest-src': ['self'],
        'form-action': ['self'],
        'base-uri': ['self']
      }
    }
  }
};
