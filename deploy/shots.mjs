// Takes the pictures of README.md in a browser over a running demo:
//
//   node deploy/shots.mjs LEAD-LINK SCOUT-LINK COACH-LINK FOLDER
//
// or, to look at all of the app, every screen in four sizes, light and dark:
//
//   node deploy/shots.mjs LEAD-LINK SCOUT-LINK COACH-LINK --all FOLDER
//
// deploy/shots starts the demo and calls this.
import { createRequire } from 'node:module';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';

// The browser driver is one of the app's own packages.
const require = createRequire(new URL('../frontend/package.json', import.meta.url));
const { chromium } = require('@playwright/test');

let options;
try {
  options = parseArgs({ allowPositionals: true, options: { all: { type: 'string' } } });
} catch (error) {
  options = { values: {}, positionals: [] };
  console.error(error.message);
}
const all = options.values.all !== undefined;
const [lead, scout, coach, folder = options.values.all] = options.positionals;
if (!folder || options.positionals.length !== (all ? 3 : 4)) {
  console.error('usage: node deploy/shots.mjs LEAD-LINK SCOUT-LINK COACH-LINK [--all] FOLDER');
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
});

/** Follows a link on a device of its own, and stays signed in there. */
async function enter(device, link) {
  const context = await browser.newContext({ ...device, reducedMotion: 'reduce', timezoneId: 'UTC' });
  const page = await context.newPage();
  page.setDefaultTimeout(20_000); // one screen that is not as expected must not hold up the others
  await page.goto(link);
  await page.waitForURL(/\/e\/[0-9a-f-]+/);
  return {
    page,
    event: new URL(page.url()).pathname.split('/').slice(0, 3).join('/'),
    origin: new URL(link).origin
  };
}

/** A device that nobody has signed in on: it sees the doors only. */
async function outside() {
  const context = await browser.newContext({ ...tablet, reducedMotion: 'reduce', timezoneId: 'UTC' });
  const page = await context.newPage();
  page.setDefaultTimeout(20_000);
  return { page, event: '', origin: new URL(lead).origin };
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
  { who: 'coach', name: 'coach', path: '', ready: (p) => p.getByText('80 % interval') },
  {
    who: 'lead',
    name: 'selection',
    path: '/selection',
    ready: (p) => p.getByText('plausible worlds'),
    // A rehearsal, so that the event stays as it is.
    then: async (p) => {
      await p.getByRole('button', { name: 'Rehearse' }).click();
      await p.getByRole('button', { name: 'Let the others choose' }).click();
      await p.getByText('Best call').waitFor({ timeout: 60_000 });
      await p.getByText('Being worked out anew').waitFor({ state: 'hidden', timeout: 60_000 });
      await p.getByText(/of \d{3,} plausible worlds/).waitFor({ timeout: 60_000 });
    }
  }
];

// Every screen, and whose it is. A screen is there once its first heading is.
const plain = (who, name, path) => ({
  who,
  name,
  path,
  ready: (p) => p.getByRole('heading', { level: 1 })
});
/** Opens the first link of the page whose address goes on like that. */
const follow = (start) => async (p, base) => {
  await p.locator(`a[href^="${base}${start}"]`).first().click();
  await p.waitForURL((url) => url.pathname.startsWith(base + start));
  await p.getByRole('heading', { level: 1 }).waitFor();
};
/** The form for the other hand, from then on. */
async function otherHand(p) {
  await p.getByRole('button', { name: 'Something wrong?' }).click();
  await p.getByRole('button', { name: 'Left-handed' }).click();
  await p.getByRole('button', { name: 'Close' }).click();
}
const parts = ['teams', 'schedule', 'codes', 'people', 'game', 'event', 'files'];
const named = (name) => shots.find((s) => s.name === name);
const screens = [
  ...['join', 'sign-in', 'set-up', 'enter'].map((door) => plain('nobody', door, `/${door}`)),
  { ...plain('lead', 'today', ''), ready: (p) => p.getByText('80 % interval') },
  { ...plain('lead', 'matches', '/matches'), ready: (p) => p.getByText(/likely, \d|Open: (red|blue)/) },
  named('match'),
  { ...named('match'), name: 'match-played', path: '/matches/Q1', ready: (p) => p.getByText('±') },
  named('robots'),
  named('robot'),
  {
    ...plain('lead', 'robot-page', '/robots/40117/page'),
    ready: (p) => p.getByRole('heading', { name: 'Points seen, match by match' })
  },
  {
    ...plain('lead', 'compare', '/robots/compare?teams=40117,40131,40134'),
    ready: (p) => p.getByRole('img', { name: /^Distributions of points/ })
  },
  {
    ...named('match'),
    name: 'what-if',
    ready: (p) => p.getByText('What if …'),
    then: (p) => p.getByText('What if …').click()
  },
  { ...plain('lead', 'standings', '/standings'), ready: (p) => p.locator('tbody a[data-team]') },
  {
    ...plain('lead', 'calibration', '/calibration'),
    ready: (p) => p.getByRole('img', { name: /^Reliability diagram/ })
  },
  {
    ...plain('lead', 'night', '/night'),
    ready: (p) => p.getByRole('heading', { name: 'Places that are open' })
  },
  plain('lead', 'lists', '/lists'),
  named('list'),
  {
    ...named('list'),
    name: 'list-weights',
    then: async (p) => {
      await named('list').then(p);
      await p.getByRole('button', { name: /^Order by weights/ }).click();
    }
  },
  { ...named('selection'), then: undefined },
  { ...named('selection'), name: 'selection-our-turn' },
  {
    ...named('selection'),
    name: 'hold-up',
    then: async (p) => {
      await p.getByRole('textbox', { name: 'Team that is invited' }).press('h');
      await p.getByRole('dialog').waitFor();
    },
    after: (p) => p.keyboard.press('Escape')
  },
  {
    ...named('selection'),
    name: 'call-sheet',
    then: (p) => p.emulateMedia({ media: 'print' }),
    after: (p) => p.emulateMedia({ media: 'screen' })
  },
  plain('lead', 'pits', '/pits'),
  plain('lead', 'pit', '/pits/40101'),
  { ...plain('lead', 'rota', '/rota'), ready: (p) => p.getByRole('heading', { name: 'Ahead' }) },
  plain('lead', 'paper', '/paper'),
  plain('lead', 'paper-type', '/paper/type'),
  {
    ...plain('lead', 'ranking', '/ranking'),
    then: (p) => p.getByLabel('The venue’s ranking').fill('1 40117 2.40\n2 40123 2.10')
  },
  plain('lead', 'history', '/history'),
  { ...plain('lead', 'history-record', '/matches/Q1'), then: follow('/history/') },
  { ...plain('lead', 'playoffs', '/playoffs'), ready: (p) => p.getByText('No alliances yet.') },
  { ...plain('lead', 'report', '/report'), ready: (p) => p.getByText('forecast match') },
  { ...plain('lead', 'truth', '/truth'), ready: (p) => p.getByText(/safe to pick from/) },
  plain('lead', 'lead-watch', '/watch'),
  plain('lead', 'device', '/device'),
  plain('lead', 'carry', '/carry'),
  {
    ...plain('lead', 'carry-codes', '/carry?part=give-out'),
    then: (p) => p.getByRole('button', { name: 'Show the codes' }).click()
  },
  ...parts.map((part) => plain('lead', `set-up-${part}`, `/set-up?part=${part}`)),
  { ...plain('lead', 'events', '/events'), whole: true },
  { ...plain('lead', 'new-event', '/events/new'), whole: true },
  plain('scout', 'pick', '/watch'),
  {
    ...named('watch'),
    // What was tapped for the first size is still there for the next.
    then: async (p) => {
      const tapped = await p.getByRole('group', { name: 'Undo' }).getByRole('button').count();
      if (tapped === 0) await named('watch').then(p);
      else await p.getByRole('button', { name: 'Driver-controlled' }).click();
    }
  },
  {
    ...named('watch'),
    name: 'watch-finish',
    then: (p) => p.getByRole('button', { name: 'Finish' }).click()
  },
  {
    ...named('watch'),
    name: 'watch-wrong',
    then: (p) => p.getByRole('button', { name: 'Something wrong?' }).click()
  },
  { ...named('watch'), name: 'watch-left', then: otherHand, after: otherHand },
  {
    ...plain('scout', 'train', '/train'),
    then: (p) => p.getByRole('button', { name: /^A short one/ }).click()
  },
  {
    ...plain('scout', 'judge', '/watch?saved=Q65-40117'),
    ready: (p) => p.getByText('best and worst', { exact: false })
  },
  plain('scout', 'records', '/watch/records'),
  plain('scout', 'scout-device', '/device'),
  plain('scout', 'scout-carry', '/carry?part=take-in'),
  { ...plain('scout', 'correct', '/watch/records'), then: follow('/watch/records/') },
  named('coach'),
  { ...named('selection'), who: 'coach', name: 'coach-selection', then: undefined },
  { ...plain('coach', 'briefs', '/brief'), ready: (p) => p.getByText('is our next match') },
  {
    ...plain('coach', 'brief', '/brief/Q68'),
    ready: (p) => p.getByRole('heading', { name: 'Who does what' })
  },
  plain('coach', 'sketch', '/brief/Q68/sketch'),
  {
    ...plain('coach', 'brief-played', '/brief/Q59'),
    ready: (p) => p.getByRole('heading', { name: 'Afterwards' })
  }
];
const sizes = [
  { width: 1180, height: 820 },
  { width: 820, height: 1180 },
  { width: 390, height: 844 },
  { width: 1440, height: 900 }
];

const links = { lead, scout, coach };
const devices = { lead: laptop, scout: tablet, coach: phone };
const failures = [];

/** Opens one screen and takes it in each scheme, or notes why not. */
async function take({ page, origin, event }, screen, schemes, name = screen.name) {
  const base = screen.whole ? '' : event;
  try {
    await page.emulateMedia({ colorScheme: schemes[0] });
    await page.goto(origin + base + screen.path);
    await screen.ready(page).first().waitFor({ timeout: 60_000 });
    await screen.then?.(page, base);
    for (const scheme of schemes) {
      await page.emulateMedia({ colorScheme: scheme });
      await shot(page, scheme === 'light' ? name : `${name}-${scheme}`);
    }
    await screen.after?.(page);
  } catch (error) {
    failures.push(`${name}: ${error.message.split('\n')[0]}`);
  }
}

/** Saves a record, so that the scout has one to show and to correct. */
async function recordOne({ page, origin, event }) {
  await page.goto(`${origin}${event}/watch`);
  await page.getByLabel('Ask me about all robots after a match').check();
  await page.goto(`${origin}${event}/watch/Q65/40117`);
  await page.getByText('Casts off').click();
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText('Saved: Q65, 40117.').waitFor();
}

if (all) {
  for (const who of ['nobody', ...Object.keys(links)]) {
    const place = who === 'nobody' ? await outside() : await enter(devices[who], links[who]);
    if (who === 'scout') await recordOne(place);
    for (const size of sizes) {
      await place.page.setViewportSize(size);
      for (const screen of screens.filter((s) => s.who === who)) {
        await take(place, screen, ['light', 'dark'], `${screen.name}-${size.width}x${size.height}`);
      }
    }
  }
} else {
  for (const who of Object.keys(links)) {
    const place = await enter(devices[who], links[who]);
    for (const screen of shots.filter((s) => s.who === who)) {
      await take(place, screen, screen.schemes ?? ['light']);
    }
  }
}
await browser.close();
if (failures.length) {
  console.error(failures.join('\n'));
  process.exit(1);
}
