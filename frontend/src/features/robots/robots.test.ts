import { describe, expect, it } from 'vitest';
import { columnsOf, figure, notDetermined, tooLittle, type RobotRow } from './columns';
import { estimate, game, match, observation } from './fixture';
import { accuracyText, cell, matchRows, meetings, remarks, robotActions, type Seen } from './profile';
import {
  filtersOf,
  joinRows,
  matchesText,
  nextOrder,
  placeOf,
  robotsSentence,
  selectionSize,
  sortRows,
  sureOf
} from './rows';

const row = (team: string, now: number, sd = 2, more = {}): RobotRow => ({
  team,
  name: `Team ${team}`,
  ours: false,
  estimate: estimate(team, now, sd, more)
});
const order = (rows: readonly RobotRow[]) => rows.map((r) => r.team);

describe('columns', () => {
  const columns = columnsOf(game, [
    row('1', 10, 2, { actions: { crate: { mean: 5, sd: 1 }, scrap: { mean: 9, sd: 1 } } })
  ]);
  const byId = (id: string) => columns.find((c) => c.id === id)!;

  it('come from the robots’ own actions; of a choice the options that are paid', () => {
    expect(columns.filter((c) => c.group === 'Actions').map((c) => c.id)).toEqual([
      'action:leave',
      'action:auto_crate',
      'action:crate',
      'action:scrap',
      'action:dock:low',
      'action:dock:high'
    ]);
  });

  it('set what teams say beside what was seen, and warn where it is far more', () => {
    const asks = {
      ...game,
      questions: [{ id: 'says', name: 'Crates', kind: 'number', when: 'pit', role: 'claim', action: 'crate' }]
    } as typeof game;
    const pit = { team: '1', by: ['s01'], at: '', photos: [], routines: [], notes: [], again: false };
    const told = (says: number): RobotRow => ({
      ...row('1', 10, 2, { actions: { crate: { mean: 5, sd: 1 } } }),
      pit: { ...pit, answers: { says } }
    });
    const claim = columnsOf(asks, [told(8)]).find((c) => c.id === 'claim:says')!;
    expect(claim.text(told(8))).toBe('8, 5.0');
    expect([told(8), told(6)].map((r) => claim.warn?.(r))).toEqual([true, false]);
    expect(claim.text(row('1', 10))).toBe('');
    expect(claim.value(row('1', 10))).toBeUndefined();
  });

  it('tell two actions of the same name apart by their period', () => {
    expect(byId('action:crate').under).toBe('Driver-controlled');
    expect(byId('action:auto_crate').under).toBe('Autonomous');
    expect(byId('action:scrap').under).toBeUndefined();
  });

  it('write counts with their interval and shares as percent', () => {
    const r = row('1', 10, 2, {
      actions: { crate: { mean: 4.84, sd: 0.5 }, 'dock:high': { mean: 0.8, sd: 0.1 } }
    });
    expect(byId('action:crate').text(r)).toBe('4.8');
    expect(byId('action:crate').quiet?.(r)).toBe('± 0.6');
    expect(byId('action:dock:high').text(r)).toBe('80\u00a0%');
    expect(byId('action:scrap').text(r)).toBe('–');
  });

  it('know that of scrap, of stops and of the defence figure less is better', () => {
    expect(['action:scrap', 'stops', 'ls:defence', 'ls:offence'].map((id) => byId(id).best)).toEqual([
      'low',
      'low',
      'low',
      'high'
    ]);
  });

  it('say what least squares cannot tell, never 0', () => {
    expect(byId('ls:offence').text(row('1', 10))).toBe(notDetermined);
    expect(byId('ls:offence').value(row('1', 10))).toBeUndefined();
    const r = row('1', 10, 2, { least_squares: { offence: 31.25, defence: 28, margin: 3.25 } });
    expect(byId('ls:offence').text(r)).toBe('31.3');
    expect(byId('ls:margin').text(r)).toBe('+3.3');
  });

  it('do not call stops of a robot that nobody watched 0 %', () => {
    expect(byId('stops').text(row('1', 10, 2, { watched: 0 }))).toBe('–');
    expect(byId('stops').warn?.(row('1', 10, 2, { stops: 0.2 }))).toBe(true);
  });

  it('give each view its figure; working has no interval of its own', () => {
    expect(figure(row('1', 10, 2), 'now')).toEqual({ mean: 10, sd: 2 });
    expect(figure(row('1', 10, 2), 'working')).toEqual({ mean: 12 });
    expect(figure({ team: '1', name: '', ours: false }, 'now')).toBeUndefined();
  });

  it('call too little what was watched never or played once', () => {
    expect(tooLittle(row('1', 10))).toBe(false);
    expect(tooLittle(row('1', 10, 2, { watched: 0 }))).toBe(true);
    expect(tooLittle(row('1', 10, 2, { matches: 1 }))).toBe(true);
    expect(tooLittle({ team: '1', name: '', ours: false })).toBe(true);
  });
});

describe('rows', () => {
  it('join teams and estimates and know our own', () => {
    const rows = joinRows(
      [
        { team: '20', name: 'B' },
        { team: '3', name: 'A' }
      ],
      [estimate('20', 5)],
      '20'
    );
    expect(rows.map((r) => [r.team, r.ours, r.estimate?.now])).toEqual([
      ['3', false, undefined],
      ['20', true, 5]
    ]);
  });

  const rows = [row('1', 10), row('2', 30), { team: '3', name: 'No estimate', ours: false }, row('4', 20)];
  const columns = columnsOf(game, rows);

  it('sort both ways with the unknown last each time', () => {
    expect(order(sortRows(rows, { by: 'estimate', descending: true }, columns, 'now'))).toEqual([
      '2',
      '4',
      '1',
      '3'
    ]);
    expect(order(sortRows(rows, { by: 'estimate', descending: false }, columns, 'now'))).toEqual([
      '1',
      '4',
      '2',
      '3'
    ]);
    expect(order(sortRows(rows, { by: 'team', descending: true }, columns, 'now'))).toEqual([
      '4',
      '3',
      '2',
      '1'
    ]);
  });

  it('a head pressed once gives the best first, twice the other way', () => {
    const once = nextOrder({ by: 'team', descending: false }, 'stops', 'low');
    expect(once).toEqual({ by: 'stops', descending: false });
    expect(nextOrder(once, 'stops', 'low')).toEqual({ by: 'stops', descending: true });
    expect(nextOrder(once, 'estimate', 'high')).toEqual({ by: 'estimate', descending: true });
  });

  it('are found by number from the start or by a part of the name, accents or not', () => {
    const r = { team: '40117', name: 'Möwen & Söhne', ours: false };
    expect(['401', 'mowen', 'SÖHNE', ' ', '117'].map((t) => matchesText(r, t))).toEqual([
      true,
      true,
      true,
      true,
      false
    ]);
  });

  it('are filtered by chips made from the game and the next match', () => {
    const filters = filtersOf(game, match('Q9', ['1', '2'], ['3', '4']));
    expect(filters.map((f) => f.name)).toEqual([
      'High half the time',
      'Starts left',
      'Starts right',
      'Rising',
      'Stops under 10 %',
      'In Q9',
      'Too little data'
    ]);
    const docks = row('8', 1, 1, { actions: { 'dock:high': { mean: 0.5, sd: 0.1 } } });
    expect(filters[0]?.keeps(docks)).toBe(true);
    expect(filters[0]?.keeps(row('8', 1))).toBe(false);
    expect(filters[5]?.keeps(row('4', 1))).toBe(true);
    expect(filters[5]?.keeps(row('5', 1))).toBe(false);
  });
});

describe('the sentence', () => {
  // Four places (two alliances of two): the fifth is the first that is out.
  const clear = [40, 38, 36, 34, 10, 9].map((now, i) => row(String(i + 1), now, 2));
  const close = [40, 38, 21, 20, 19, 9].map((now, i) => row(String(i + 1), now, 3));

  it('counts the places that are sure at 90 %', () => {
    expect(selectionSize(game)).toBe(4);
    expect(order(sureOf(clear, 4).sure)).toEqual(['1', '2', '3', '4']);
    expect(order(sureOf(close, 4).open)).toEqual(['3', '4']);
  });

  it('uses the normal distribution at 90 %: 1.2816 standard deviations above the cut', () => {
    const at = (now: number) => [
      row('1', now, 1),
      row('2', 50, 1),
      row('3', 40, 1),
      row('4', 10, 1),
      row('5', 10, 1)
    ];
    expect(sureOf(at(11.29), 4).sure.some((r) => r.team === '1')).toBe(true);
    expect(sureOf(at(11.27), 4).sure.some((r) => r.team === '1')).toBe(false);
  });

  it.each([
    [[], 0, 0, 'No teams yet.'],
    [[{ team: '1', name: '', ours: false }], 0, 0, '1 robot, no schedule yet.'],
    [clear, 8, 9, '6 robots, 8 of 9 matches played. The first 4 places are sure.'],
    [close, 8, 9, '6 robots, 8 of 9 matches played. Of the first 4 places, two are open.'],
    [
      clear.map((r) => row(r.team, r.estimate!.now, 60)),
      1,
      9,
      '6 robots, 1 of 9 matches played. Too little data to tell the first 4 from the rest.'
    ]
  ])('%#', (rows, played, total, want) => {
    expect(robotsSentence(rows as RobotRow[], game, played, total)).toBe(want);
  });

  it('gives a robot its place; equal ones share it', () => {
    expect(placeOf([row('1', 5), row('2', 9), row('3', 9)], '3')).toEqual({ place: 1, of: 3 });
    expect(placeOf([row('1', 5), row('2', 9), row('3', 9)], '1')).toEqual({ place: 3, of: 3 });
    expect(placeOf([], '1')).toBeUndefined();
  });
});

describe('match by match', () => {
  const seen = (o: ReturnType<typeof observation>): Seen => ({
    id: o.match + o.scout,
    body: o,
    conflict: false,
    unsent: false
  });
  const action = (id: string) => game.actions.find((a) => a.id === id)!;

  it('has a row for each match of the schedule and each record beyond it', () => {
    const rows = matchRows(
      '1',
      [
        match('Q10', ['1', '2'], ['3', '4']),
        match('Q2', ['3', '4'], ['5', '1'], [20, 31]),
        match('Q3', ['2', '3'], ['4', '5'])
      ],
      [
        seen(observation('Q2', '1', 's2')),
        seen(observation('Q2', '1', 's1')),
        seen(observation('W1', '1', 's1')),
        seen(observation('Q2', '5', 's1')),
        seen(observation('Q10', '1', 's1', { discarded: true }))
      ]
    );
    expect(rows.map((r) => [r.match, r.side, r.played, r.ownScore, r.seen.map((s) => s.body.scout)])).toEqual(
      [
        ['W1', undefined, false, undefined, ['s1']],
        ['Q2', 'blue', true, 31, ['s1', 's2']],
        ['Q10', 'red', false, undefined, []]
      ]
    );
  });

  it('never writes 0 for what was not watched', () => {
    expect(cell(action('crate'), [seen(observation('Q1', '1', 's1'))])).toEqual({ text: '·' });
    expect(
      cell(action('crate'), [
        seen(observation('Q1', '1', 's1', { counts: { crate: { made: 0, missed: 0 } } }))
      ])
    ).toEqual({
      text: '0',
      missed: '0'
    });
    expect(
      cell(action('crate'), [seen(observation('Q1', '1', 's1', { counts: { crate: { missed: 2 } } }))])
    ).toEqual({
      text: '–',
      missed: '2'
    });
  });

  it('shows where two scouts disagree', () => {
    const two = [
      seen(
        observation('Q1', '1', 's1', {
          counts: { crate: { made: 4 }, leave: { made: 1 } },
          choices: { dock: { option: 'high' } }
        })
      ),
      seen(
        observation('Q1', '1', 's2', {
          counts: { crate: { made: 6 }, leave: { made: 0 } },
          choices: { dock: { option: 'low' } }
        })
      )
    ];
    expect(cell(action('crate'), two).text).toBe('4–6');
    expect(cell(action('leave'), two).text).toBe('yes or no');
    expect(cell(action('dock'), two).text).toBe('High or Low');
  });

  it('says in words what the questions and fouls tell', () => {
    expect(
      remarks(
        game,
        observation('Q1', '1', 's1', {
          answers: { start: 'left', still: 34, lost: true },
          fouls: { minor: 2 }
        })
      )
    ).toEqual(['started left', 'stopped 34 s', 'lost sight of it', 'minor foul 2']);
    expect(
      remarks(game, observation('Q1', '1', 's1', { answers: { still: 0, lost: false }, absent: true }))
    ).toEqual(['did not show']);
  });

  it('has accuracy with its interval and the number of tries', () => {
    expect(accuracyText({ share: 0.61, low: 0.52, high: 0.7, tries: 23 })).toBe(
      '61\u00a0% count (52\u00a0% to 70\u00a0%), 23 tries'
    );
  });

  it('leaves the alliance’s own actions out', () => {
    expect(robotActions(game).some((a) => a.by === 'alliance')).toBe(false);
  });

  it('finds the matches to come with us and against us', () => {
    const matches = [
      match('Q9', ['1', '7'], ['3', '4']),
      match('Q4', ['1', '2'], ['7', '4']),
      match('Q1', ['1', '7'], ['3', '4'], [1, 2]),
      match('Q5', ['1', '2'], ['3', '4'])
    ];
    expect(meetings('1', '7', matches)).toEqual([
      { match: 'Q4', together: false },
      { match: 'Q9', together: true }
    ]);
    expect(meetings('7', '7', matches)).toEqual([]);
  });
});
