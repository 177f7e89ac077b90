export * from './pit';
export { reportsOf } from './reports';
