import { describe, expect, it } from 'vitest';
import { medianInterval, shareInterval, shift, trend } from './rank';

const close = (got: readonly number[] | undefined, want: readonly number[]) => {
  expect(got).toHaveLength(want.length);
  want.forEach((w, i) => expect(got?.[i]).toBeCloseTo(w, 6));
};

describe('the interval of a median', () => {
  // R 4.2.2: k = qbinom(0.1, n, 0.5) is the rank of the lower end; no interval where it is 0.
  it.each([
    [3, 0],
    [4, 1],
    [6, 1],
    [7, 2],
    [9, 3],
    [11, 3],
    [12, 4],
    [15, 5],
    [20, 7],
    [25, 9],
    [30, 11]
  ])('of %i values begins with the %i-th', (n, k) => {
    const values = Array.from({ length: n }, (_, i) => (i * 7) % n); // 0 … n − 1, not in order
    expect(new Set(values).size === n || n % 7 === 0).toBe(true);
    const mixed = n % 7 === 0 ? values.map((_, i) => n - 1 - i) : values;
    expect(medianInterval(mixed)?.range).toEqual(k === 0 ? undefined : [k - 1, n - k]);
    expect(medianInterval(mixed)?.value).toBe((n - 1) / 2);
  });

  it('of nothing is nothing', () => {
    expect(medianInterval([])).toBeUndefined();
  });
});

describe('a trend', () => {
  it('is that of Theil and Sen', () => {
    // R 4.2.2: of all b, those with cor.test(x, y - b * x, method = "kendall", exact = TRUE)$p.value > 0.2.
    const found = trend([12, 15, 11, 19, 22, 17, 25, 21, 30].map((value, i) => ({ at: i + 1, value })));
    expect(found?.value).toBe(2);
    close(found?.range, [1.5, 7 / 3]);
  });

  it('of few values has no interval', () => {
    expect(trend([1, 2, 4].map((value, at) => ({ at, value })))).toEqual({
      value: 1.5,
      range: undefined,
      n: 3
    });
    expect(trend([{ at: 1, value: 3 }])).toBeUndefined();
  });
});

describe('a shift', () => {
  // R 4.2.2: wilcox.test(a, b, conf.int = TRUE, conf.level = 0.8, exact = TRUE)
  it.each([
    [[18, 25, 14, 20.5], [31, 22, 40, 28, 35, 27], -10.25, [-17, -6]],
    [[5, 9, 7.5], [12, 15, 8, 20, 13, 11.5], -5.75, [-10, -3]]
  ])('of %j against %j', (a, b, value, range) => {
    expect(shift(a, b)?.value).toBeCloseTo(value, 6);
    close(shift(a, b)?.range, range);
  });
});

describe('a share', () => {
  // R 4.2.2: prop.test(k, n, conf.level = 0.8, correct = FALSE)$conf.int
  it.each([
    [3, 9, [0.1720893, 0.5460187]],
    [0, 5, [0, 0.2472571]],
    [7, 7, [0.8099626, 1]],
    [12, 40, [0.2165391, 0.3992369]]
  ])('of %i in %i', (k, n, range) => close(shareInterval(k, n)?.range, range));
});
