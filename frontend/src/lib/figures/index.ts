export * from './chance';
export * from './csv';
export * from './match-id';
export * from './number';
export * from './spread';
export * from './team';
export * from './time';
