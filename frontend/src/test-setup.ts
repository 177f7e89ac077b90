import 'fake-indexeddb/auto';

// jsdom lays nothing out, so nothing ever changes its size.
globalThis.ResizeObserver ??= class {
  observe(): void {}
  unobserve(): void {}
  disconnect(): void {}
};
