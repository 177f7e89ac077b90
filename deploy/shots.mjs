// Takes the pictures of README.md in a browser over a running demo:
//
//   node deploy/shots.mjs LEAD-LINK SCOUT-LINK COACH-LINK FOLDER
//
// deploy/shots starts the demo and calls this.
import { createRequire } from 'node:module';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';

// The browser driver is one of the app's own packages.
const require = createRequire(new URL('../frontend/package.json', import.meta.url));
const { chromium } = require('@playwright/test');

const [lead, scout, coach, folder] = process.argv.slice(2);
if (!folder) {
  console.error('usage: node deploy/shots.mjs LEAD-LINK SCOUT-LINK COACH-LINK FOLDER');
  process.exit(2);
}
mkdirSync(folder, { recursive: true });

const laptop = { viewport: { width: 1280, height: 800 }, deviceScaleFactor: 1 };
const tablet = {
  viewport: { width: 1180, height: 820 },
  deviceScaleFactor: 1,
  hasTouch: true,
  isMobile: true
};
const phone = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 1, hasTouch: true, isMobile: true };

const browser = await chromium.launch({
  executablePath: process.env.SEXTANT_CHROMIUM ?? '/usr/bin/chromium',
  args: [
    '--no-sandbox',
    '--disable-gpu',
    '--disable-quic',
    '--no-first-run',
    '--disable-background-networking',
    '--disable-component-update',
    '--disable-sync'
  ]
});

/** Follows a link on a device of its own, and stays signed in there. */
async function enter(device, link) {
  const context = await browser.newContext({ ...device, reducedMotion: 'reduce', timezoneId: 'UTC' });
  const page = await context.newPage();
  await page.goto(link);
  await page.waitForURL(/\/e\/[0-9a-f-]+/);
  return {
    page,
    event: new URL(page.url()).pathname.split('/').slice(0, 3).join('/'),
    origin: new URL(link).origin
  };
}

async function shot(page, name) {
  await page.evaluate(() => document.fonts.ready);
  await page.screenshot({ path: join(folder, `${name}.png`), animations: 'disabled', caret: 'hide' });
  console.log(`${name}.png`);
}

// What each picture shows, and what must be on the page before it is taken.
const shots = [
  { who: 'lead', name: 'match', path: '/matches/Q66', ready: (p) => p.getByText('80 % interval') },
  {
    who: 'lead',
    name: 'robots',
    path: '/robots',
    ready: (p) => p.getByText('±').nth(15),
    schemes: ['light', 'dark']
  },
  { who: 'lead', name: 'robot', path: '/robots/40117', ready: (p) => p.getByText('What it does in a match') },
  {
    who: 'lead',
    name: 'list',
    path: '/lists',
    ready: (p) => p.getByText('First picks'),
    then: async (p) => {
      await p.getByText('First picks').first().click();
      await p.getByText('Tier 2').first().waitFor();
    }
  },
  {
    who: 'scout',
    name: 'watch',
    path: '/watch/Q66/40124',
    ready: (p) => p.getByText('Casts off'),
    then: async (p) => {
      await p.getByText('Casts off').click();
      await p.getByText('Driver-controlled').first().click();
      for (const card of [
        'Barrel on deck',
        'Barrel on deck',
        'Barrel in hold',
        'Barrel on deck',
        'Pennant raised'
      ]) {
        await p.getByText(card).first().click();
      }
    }
  },
  { who: 'coach', name: 'coach', path: '', ready: (p) => p.getByText('80 % interval') }
];
const links = { lead, scout, coach };
const devices = { lead: laptop, scout: tablet, coach: phone };
const failures = [];
for (const [who, link] of Object.entries(links)) {
  const { page, origin, event } = await enter(devices[who], link);
  for (const { name, path, ready, then, schemes = ['light'] } of shots.filter((s) => s.who === who)) {
    for (const scheme of schemes) {
      try {
        await page.emulateMedia({ colorScheme: scheme });
        await page.goto(origin + event + path);
        await ready(page).first().waitFor({ timeout: 60_000 });
        await then?.(page);
        await shot(page, scheme === 'light' ? name : `${name}-${scheme}`);
      } catch (error) {
        failures.push(`${name}: ${error.message.split('\n')[0]}`);
      }
    }
  }
}
await browser.close();
if (failures.length) {
  console.error(failures.join('\n'));
  process.exit(1);
}
