/** The invented games of testdata/games, for tests. */
import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import type { Game } from './types';

// Vitest runs in the frontend folder.
export const testdata = <T>(path: string): T =>
  JSON.parse(readFileSync(resolve('../testdata', path), 'utf8')) as T;

export const gameFile = (file: string): Game => testdata<Game>(`games/${file}`);
