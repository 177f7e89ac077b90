import { describe, expect, it } from 'vitest';
import { chanceSentence, likelihood, ourChanceSentence } from './chance';
import { csvCell, csvText } from './csv';
import { compareMatches, matchName, parseMatch } from './match-id';
import { capital, counted, fixed, inWords, listed, ordinal, percent, signed, unknown } from './number';
import { halfWidth, interval, normalCdf, plusMinus, scaleOf, sharedScale } from './spread';
import { compareTeams, isTeam } from './team';
import { ago, clock, knownTime, weekday } from './time';

describe('match ids', () => {
  it.each([
    ['Q31', { stage: 'Q', number: 31 }],
    ['F2', { stage: 'F', number: 2 }],
    ['Q0', undefined],
    ['q1', undefined],
    ['X1', undefined],
    ['Q12345', undefined]
  ])('reads %s', (text, want) => {
    expect(parseMatch(text)).toEqual(want);
  });

  it('orders as played: practice, qualification, playoff, final, then number', () => {
    expect(['F1', 'Q10', 'P2', 'Q9', 'W3', '?'].sort(compareMatches)).toEqual([
      'W3',
      'Q9',
      'Q10',
      'P2',
      'F1',
      '?'
    ]);
  });

  it('names a match', () => {
    expect(matchName('Q31')).toBe('Qualification match 31');
    expect(matchName('31')).toBe('31');
  });
});

describe('teams', () => {
  it('orders by number, then letter', () => {
    expect(['40117B', '999', '40117', '40102'].sort(compareTeams)).toEqual([
      '999',
      '40102',
      '40117',
      '40117B'
    ]);
  });

  it('knows the form', () => {
    expect(['1', '40117', '40117B', '04', '123456', '12AB'].map(isTeam)).toEqual([
      true,
      true,
      true,
      false,
      false,
      false
    ]);
  });
});

describe('numbers', () => {
  it('never writes minus zero, and a dash for what is not known', () => {
    expect(fixed(-0.04)).toBe('0.0');
    expect(fixed(-3.14)).toBe('−3.1');
    expect(fixed(null)).toBe(unknown);
    expect(fixed(Number.NaN)).toBe(unknown);
    expect(signed(2.25, 1)).toBe('+2.3');
    expect(signed(0.01)).toBe('0.0');
    expect(signed(-1)).toBe('−1.0');
  });

  it('keeps certainty for what is certain', () => {
    expect(percent(0)).toBe('0\u00a0%');
    expect(percent(0.001)).toBe('<1\u00a0%');
    expect(percent(0.999)).toBe('>99\u00a0%');
    expect(percent(1)).toBe('100\u00a0%');
    expect(percent(0.637)).toBe('64\u00a0%');
    expect(percent(undefined)).toBe(unknown);
  });

  it('counts and lists in words', () => {
    expect(counted(1, 'record')).toBe('1 record');
    expect(counted(0, 'match', 'matches')).toBe('0 matches');
    expect(inWords(5)).toBe('five');
    expect(capital(inWords(5))).toBe('Five');
    expect(inWords(24)).toBe('24');
    expect(listed(['a', 'b', 'c'])).toBe('a, b and c');
    expect(listed([])).toBe('');
  });
});

describe('spreads', () => {
  // NIST/SEMATECH e-Handbook 1.3.6.7.1 (table of the cumulative normal, from memory).
  it.each([
    [0, 0.5],
    [0.67, 0.7486],
    [1.28, 0.8997],
    [1.96, 0.975],
    [-1, 0.1587]
  ])('normal distribution at %d', (z, p) => {
    expect(normalCdf(z)).toBeCloseTo(p, 4);
  });

  it('half-widths leave the stated share outside', () => {
    for (const level of [50, 80, 95] as const) {
      expect(2 * (1 - normalCdf(halfWidth[level]))).toBeCloseTo(1 - level / 100, 6);
    }
  });

  it('writes the 80 % half-width', () => {
    expect(plusMinus(3.1)).toBe('± 4.0');
    expect(plusMinus(undefined)).toBe('');
    expect(interval({ mean: 10, sd: 2 }, 95)[0]).toBeCloseTo(6.08, 2);
  });

  it('makes round ticks within the range', () => {
    const scale = scaleOf(3, 47);
    expect(scale.ticks).toEqual([10, 20, 30, 40]);
    expect(scaleOf(0, 90).ticks).toEqual([0, 20, 40, 60, 80]);
    expect(scaleOf(-0.3, 0.5).ticks).toEqual([-0.2, 0, 0.2, 0.4]);
    expect(scale.at(25)).toBeCloseTo(0.5);
    expect(scale.at(-10)).toBe(0);
    expect(scale.at(99)).toBe(1);
  });

  it('does not let one unknown robot squeeze the others', () => {
    const many = Array.from({ length: 19 }, (_, i) => ({ mean: 20 + i, sd: 3 }));
    const scale = sharedScale([...many, { mean: 25, sd: 200 }]);
    expect(scale.high).toBeLessThan(50);
    expect(scale.low).toBeGreaterThanOrEqual(-20);
  });

  it('shows the whole interval of the best, even if it is the widest', () => {
    const scale = sharedScale([...[10, 20, 30].map((mean) => ({ mean, sd: 3 })), { mean: 70, sd: 5 }]);
    expect(scale.high).toBeGreaterThan(70 + 1.96 * 5);
  });

  it('has a scale for no robots at all', () => {
    expect(sharedScale([]).at(0.5)).toBeCloseTo(0.5);
    expect(scaleOf(5, 5).at(5)).toBeGreaterThanOrEqual(0);
  });
});

describe('chances', () => {
  // Boundaries of the published scale, see chance.ts.
  it.each([
    [0.995, 'virtually certain'],
    [0.95, 'very likely'],
    [0.7, 'likely'],
    [0.5, 'about as likely as not'],
    [0.2, 'unlikely'],
    [0.05, 'very unlikely'],
    [0.001, 'exceptionally unlikely']
  ])('%d is %s', (p, word) => {
    expect(likelihood(p)).toBe(word);
  });

  it('never gives a word without its number', () => {
    expect(chanceSentence({ red: 0.72, blue: 0.27, tie: 0.01 })).toBe('Red is likely to win: 72\u00a0%.');
    expect(chanceSentence({ red: 0.3, blue: 0.69, tie: 0.01 })).toBe('Blue is likely to win: 69\u00a0%.');
    expect(chanceSentence({ red: 0.55, blue: 0.44, tie: 0.01 })).toBe(
      'Either may win: red 55\u00a0%, blue 44\u00a0%.'
    );
    expect(ourChanceSentence({ red: 0.2, blue: 0.79, tie: 0.01 }, 'red')).toBe(
      'We are unlikely to win: 20\u00a0%.'
    );
    expect(ourChanceSentence({ red: 0.2, blue: 0.79, tie: 0.01 }, 'blue')).toBe(
      'We are likely to win: 79\u00a0%.'
    );
    expect(ourChanceSentence({ red: 0.5, blue: 0.49, tie: 0.01 }, 'blue')).toBe(
      'It is open: 49\u00a0% for us, 50\u00a0% for them.'
    );
  });
});

describe('times', () => {
  it('knows that the zero time is not known', () => {
    expect(knownTime('0001-01-01T00:00:00Z')).toBeUndefined();
    expect(knownTime('')).toBeUndefined();
    expect(knownTime('nonsense')).toBeUndefined();
    expect(knownTime('2031-03-06T09:00:00-05:00')?.toISOString()).toBe('2031-03-06T14:00:00.000Z');
  });

  it('shows the clock of the event, not of the device', () => {
    const date = new Date('2031-03-06T14:05:00Z');
    expect(clock(date, 'America/New_York')).toBe('09:05');
    expect(clock(date, 'Europe/Berlin')).toBe('15:05');
    expect(clock(date, 'No/Such')).toMatch(/^\d\d:05$/);
    expect(weekday(new Date('2031-03-07T01:05:00Z'), 'America/New_York')).toBe('Thu');
    expect(weekday(new Date('2031-03-07T01:05:00Z'), 'Europe/Berlin')).toBe('Fri');
  });

  it('says how long ago', () => {
    const now = new Date('2031-03-06T14:05:00Z');
    const before = (minutes: number) => ago(new Date(now.getTime() - minutes * 60_000), now);
    expect([0, 4, 59, 61, 60 * 25, 60 * 49, -5].map(before)).toEqual([
      'just now',
      '4 min ago',
      '59 min ago',
      '1 h ago',
      '1 day ago',
      '2 days ago',
      'just now'
    ]);
  });
});

describe('csv', () => {
  // RFC 4180, section 2, rules 6 and 7: quotes around commas, line breaks and
  // quotes; a quote inside is doubled.
  it('quotes by RFC 4180', () => {
    expect(csvCell('aaa')).toBe('aaa');
    expect(csvCell('b"bb')).toBe('"b""bb"');
    expect(csvCell('b\nbb')).toBe('"b\r\nbb"');
    expect(csvCell('b,bb')).toBe('"b,bb"');
  });

  it('guards what a spreadsheet would run', () => {
    expect(['=1+1', '+1', '-1', '@x', 'a=b'].map(csvCell)).toEqual(["'=1+1", "'+1", "'-1", "'@x", 'a=b']);
  });

  it('guards a text that already looks guarded, so that import gives it back', () => {
    expect(csvCell("'=1")).toBe("''=1");
  });

  it('ends each row', () => {
    expect(
      csvText([
        ['a', 'b'],
        ['1', '']
      ])
    ).toBe('a,b\r\n1,\r\n');
  });
});

it.each([
  [1, '1st'],
  [2, '2nd'],
  [3, '3rd'],
  [4, '4th'],
  [11, '11th'],
  [12, '12th'],
  [13, '13th'],
  [21, '21st'],
  [102, '102nd'],
  [112, '112th']
])('%i is the %s', (n, want) => expect(ordinal(n)).toBe(want));
