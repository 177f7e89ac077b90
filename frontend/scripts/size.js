// How much JavaScript a scout's tablet loads before the form works, gzipped.
// Fails above the budget. Run it after a build.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';

const BUDGET = 90_000;
const ROUTE = '/e/[event]/watch/[match]/[team]';
const client = '.svelte-kit/output/client/';

/** @type {Record<string, {file: string, imports?: string[], dynamicImports?: string[], src?: string}>} */
const manifest = JSON.parse(readFileSync(join(client, '.vite/manifest.json'), 'utf8'));
const nodes = routeNodes(ROUTE);

/** @type {Set<string>} */
const files = new Set();
/** @param {string} key */
function add(key) {
  const entry = manifest[key];
  if (!entry || files.has(entry.file)) return;
  files.add(entry.file);
  for (const other of entry.imports ?? []) add(other);
}
for (const [key, entry] of Object.entries(manifest)) {
  const name = entry.file.split('/').at(-1)?.split('.')[0] ?? '';
  if (
    /\/entry\/(start|app)\./.test(entry.file) ||
    (entry.file.includes('/nodes/') && nodes.has(Number(name)))
  )
    add(key);
}

let total = 0;
for (const file of [...files].filter((f) => f.endsWith('.js'))) {
  total += gzipSync(readFileSync(join(client, file)), { level: 9 }).length;
}
const all = readdirSync(join(client, '_app'), { recursive: true, encoding: 'utf8' })
  .filter((f) => f.endsWith('.js'))
  .reduce((sum, f) => sum + gzipSync(readFileSync(join(client, '_app', f)), { level: 9 }).length, 0);
console.log(
  `scout's form: ${(total / 1000).toFixed(1)} kB of JavaScript gzipped in ${files.size} files, budget ${BUDGET / 1000} kB; the whole app ${(all / 1000).toFixed(1)} kB`
);
if (total === 0 || nodes.size < 3) {
  console.error('the route of the form was not found in the build');
  process.exit(1);
}
if (total > BUDGET) process.exit(1);

/**
 * Numbers of the layouts and the page of a route, as kit's generated client
 * manifest has them. 0 is the root layout, 1 the error page.
 * @param {string} route
 */
function routeNodes(route) {
  const source = readFileSync('.svelte-kit/generated/client-optimized/app.js', 'utf8');
  const line = source.split('\n').find((l) => l.includes(`"${route}"`)) ?? '';
  const numbers =
    line.slice(line.indexOf('[', line.indexOf(`"${route}"`) + route.length + 2)).match(/\d+/g) ?? [];
  return new Set([0, 1, ...numbers.map(Number)]);
}
