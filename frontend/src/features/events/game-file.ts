/** What can be said about a game file before the server has checked it. */
export type Look = { game: unknown; sentence: string } | { problem: string };

export function lookAt(text: string): Look | undefined {
  if (text.trim() === '') return undefined;
  let game: unknown;
  try {
    game = JSON.parse(text);
  } catch (error) {
    return { problem: `This is not JSON: ${error instanceof Error ? error.message : 'it cannot be read'}.` };
  }
  if (typeof game !== 'object' || game === null || Array.isArray(game)) {
    return { problem: 'A game file is one JSON object: it starts with { and ends with }.' };
  }
  const { name, version, actions, periods } = game as Record<string, unknown>;
  const count = (list: unknown) => (Array.isArray(list) ? list.length : 0);
  const called = typeof name === 'string' && name !== '' ? name : 'A game without a name';
  return {
    game,
    sentence: `${called}${typeof version === 'number' ? `, version ${version}` : ''}: ${count(actions)} actions in ${count(periods)} periods.`
  };
}
