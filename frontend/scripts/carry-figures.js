// How much goes into codes and how well they are read: the table of
// src/lib/carry/format.md. Run it with `npm run carry-figures` in frontend.
//
// The records are drawn, the codes are the app's, the pictures are computed (a
// flat screen seen by a pinhole camera, Gaussian blur and noise), and the reader
// is the one that the app loads.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { encode } from 'uqr';
import { runnerImport } from 'vite';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';

const { module: carry } = await runnerImport('./src/lib/carry/index.ts');
const { NEAR, FAR, frames, seal } = carry;
const PER_SECOND = 6; // as features/carry/Show.svelte shows them
const TRIES = Number(process.argv[2] ?? 20);
const EVENT = '018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f';

// Park and Miller's generator (Communications of the ACM 31, 1988).
let state = 20260101;
const random = () => (state = (state * 48271) % 2147483647) / 2147483647;
const below = (n) => Math.floor(random() * n);
const normal = () => Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());
const hex = (n) => Array.from({ length: n }, () => below(16).toString(16)).join('');
const id = (version) => `${hex(8)}-${hex(4)}-${version}${hex(3)}-9${hex(3)}-${hex(12)}`;

/** Records of one scout, 60 are a day: 50 taps each, of the invented game slackwater. */
function records(n, timelines) {
  return Array.from({ length: n }, (_, i) => {
    const taps = [];
    const counts = {
      auto_deck: { made: 0 },
      deck: { made: 0, missed: 0 },
      hold: { made: 0, missed: 0 },
      pennant: { made: 0 }
    };
    for (let k = 0, at = 0; k < 50; k++) {
      at += 400 + below(5000);
      const action = ['deck', 'hold', 'pennant'][below(3)];
      const missed = action !== 'pennant' && random() < 0.25;
      counts[action][missed ? 'missed' : 'made']++;
      taps.push([at, missed ? `${action}_missed` : action, 1]);
    }
    const body = {
      ...{ match: `Q${i + 1}`, team: String(40101 + below(48)), scout: 's03', counts },
      choices: { mooring: { option: ['none', 'moored', 'lifted'][below(3)] } },
      answers: { start: ['left', 'middle', 'right'][below(3)], stopped: below(30) },
      ...(timelines && { taps })
    };
    const made_at = new Date(Date.UTC(2031, 2, 6, 9, 8 * i, below(60), below(1000))).toISOString();
    return {
      ...{ revision_id: id(7), record_id: id(5), parents: [], kind: 'observation', lamport: i + 1 },
      ...{ author: 's03', role: 'scout', device_id: '018f3c2e-0000-7000-8000-000000000001', made_at, body }
    };
  });
}

const [W, H] = [1280, 720];

/** A grey picture of a code on a screen: `share` of the picture's height, turned by `tilt` degrees about the vertical. */
function picture(code, { share, tilt = 0, blur = 0, noise = 0, contrast = 1 }) {
  const n = code.size;
  const half = (share * H) / 2;
  const [cos, sin] = [Math.cos((tilt * Math.PI) / 180), Math.sin((tilt * Math.PI) / 180)];
  const depth = 3 * half; // of the camera, in half heights of the code
  let grey = new Float32Array(W * H).fill(110);
  for (let py = 0; py < H; py++) {
    for (let px = 0; px < W; px++) {
      let sum = 0;
      let inside = 0;
      // Four samples a pixel, as a sensor's cell takes the mean.
      for (const [dx, dy] of [
        [0.25, 0.25],
        [0.75, 0.25],
        [0.25, 0.75],
        [0.75, 0.75]
      ]) {
        const [x, y] = [px + dx - W / 2, py + dy - H / 2];
        // The ray (x, y, depth)·s meets the plane (u·cos, v, depth + u·sin).
        const u = (x * depth) / (depth * cos - x * sin);
        const v = y * (1 + (u * sin) / depth);
        const [mx, my] = [
          Math.floor(((u + half) / (2 * half)) * n),
          Math.floor(((v + half) / (2 * half)) * n)
        ];
        if (mx < 0 || my < 0 || mx >= n || my >= n) continue;
        inside++;
        sum += code.data[my][mx] ? 128 - 110 * contrast : 128 + 110 * contrast;
      }
      if (inside) grey[py * W + px] = (sum + (4 - inside) * 110) / 4;
    }
  }
  if (blur) grey = blurred(blurred(grey, blur, 1, W), blur, W, H);
  const data = new Uint8ClampedArray(4 * W * H);
  for (let i = 0; i < W * H; i++) {
    const g = grey[i] + (noise ? noise * normal() : 0);
    data.set([g, g, g, 255], 4 * i);
  }
  return { data, width: W, height: H, colorSpace: 'srgb' };
}

/** Gaussian blur along one direction. */
function blurred(grey, sigma, stride, length) {
  const reach = Math.ceil(3 * sigma);
  const weights = Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-((k - reach) ** 2) / (2 * sigma ** 2))
  );
  const total = weights.reduce((a, b) => a + b);
  const out = new Float32Array(grey.length);
  for (let i = 0; i < grey.length; i++) {
    const at = Math.floor(i / stride) % length;
    let sum = 0;
    for (let k = -reach; k <= reach; k++)
      sum += weights[k + reach] * grey[i + (Math.min(length - 1, Math.max(0, at + k)) - at) * stride];
    out[i] = sum / total;
  }
  return out;
}

const conditions = [
  ['straight, three quarters of the picture’s height', { share: 0.75 }],
  ['the same, tilted by 20°', { share: 0.75, tilt: 20 }],
  ['the same, tilted by 35°', { share: 0.75, tilt: 35 }],
  ['straight, out of focus (blur 2.5 px)', { share: 0.75, blur: 2.5 }],
  ['straight, noise of 40 of 255', { share: 0.75, noise: 40 }],
  [
    'tilted 20°, blur 1.5 px, noise 20, dim (40 % contrast)',
    { share: 0.75, tilt: 20, blur: 1.5, noise: 20, contrast: 0.4 }
  ],
  ['half of the height, blur 1 px, noise 10', { share: 0.5, blur: 1, noise: 10 }],
  ['a third of the height, blur 1 px, noise 10', { share: 0.33, blur: 1, noise: 10 }],
  ['a quarter of the height, blur 1 px, noise 10', { share: 0.25, blur: 1, noise: 10 }],
  ['tilted 50°, blur 1.5 px', { share: 0.75, tilt: 50, blur: 1.5 }],
  ['straight, out of focus (blur 4 px)', { share: 0.75, blur: 4 }]
];

await prepareZXingModule({
  overrides: {
    wasmBinary: readFileSync(createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm'))
  },
  fireImmediately: true
});
const keys = { all: Buffer.alloc(32, 7).toString('base64') };
const kb = (n) => `${(n / 1000).toFixed(1)} kB`;

console.log('| records | JSON | sealed | codes of 400 bytes | one round | of 200 bytes | one round |');
console.log('| --- | --- | --- | --- | --- | --- | --- |');
const cut = {};
for (const [name, n, timelines] of [
  ['a day’s 60, with timelines (3,000 taps)', 60, true],
  ['a day’s 60, counts only', 60, false],
  ['twelve, with timelines (600 taps)', 12, true],
  ['twelve, counts only', 12, false]
]) {
  const content = {
    what: 'home',
    from: { nickname: 's03', role: 'scout' },
    at: '2031-03-06T18:00:00Z',
    revisions: records(n, timelines)
  };
  const sealed = await seal(content, EVENT, 'all', keys);
  const row = [name, kb(JSON.stringify(content).length), kb(sealed.length)];
  for (const size of [NEAR, FAR]) {
    const { texts } = await frames(sealed, EVENT, size);
    cut[size] ??= texts;
    row.push(String(texts.length), `${Math.ceil(texts.length / PER_SECOND)} s`);
  }
  console.log(`| ${row.join(' | ')} |`);
}

console.log(`\n| picture of ${W} × ${H}, ${TRIES} codes each | 400 bytes | 200 bytes |\n| --- | --- | --- |`);
const times = [];
for (const [name, how] of conditions) {
  const row = [name];
  for (const size of [NEAR, FAR]) {
    let good = 0;
    for (let i = 0; i < TRIES; i++) {
      const text = cut[size][i % (cut[size].length - 1)];
      const image = picture(encode(text, { ecc: 'L', border: 4 }), how);
      const before = performance.now();
      const found = await readBarcodes(image, { formats: ['QRCode'], maxNumberOfSymbols: 2 });
      times.push(performance.now() - before);
      if (found.some((f) => f.isValid && f.text === text)) good++;
    }
    row.push(`${Math.round((100 * good) / TRIES)} %`);
  }
  console.log(`| ${row.join(' | ')} |`);
}
const version = (size) => encode(cut[size][0], { ecc: 'L' }).version;
times.sort((a, b) => a - b);
console.log(
  `\nVersion ${version(NEAR)} and ${version(FAR)}; a picture is read in ${times[times.length >> 1].toFixed(0)} ms (median), 95 % within ${times[Math.floor(times.length * 0.95)].toFixed(0)} ms.`
);
