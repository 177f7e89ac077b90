import { afterEach, expect, test, vi } from 'vitest';
import { saveFile } from './save-file';

afterEach(() => {
  vi.restoreAllMocks();
  vi.useRealTimers();
});

test('a file is saved under its name, and let go only once the browser has had time to read it', () => {
  vi.useFakeTimers();
  const content = new Blob(['a,b']);
  // The test's browser has neither.
  const made = (URL.createObjectURL = vi.fn(() => 'blob:one'));
  const gone = (URL.revokeObjectURL = vi.fn());
  const saved: string[] = [];
  vi.spyOn(HTMLAnchorElement.prototype, 'click').mockImplementation(function (this: HTMLAnchorElement) {
    saved.push(`${this.download} ${this.href}`);
  });
  saveFile('teams.csv', content);
  expect(saved).toEqual(['teams.csv blob:one']);
  expect(made).toHaveBeenCalledWith(content);
  expect(gone).not.toHaveBeenCalled();
  vi.runAllTimers();
  expect(gone).toHaveBeenCalledWith('blob:one');
});
