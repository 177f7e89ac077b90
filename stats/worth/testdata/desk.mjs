// Runs cmd/worthwasm in Node: node desk.mjs wasm_exec.js FOLDER, where FOLDER has
// worth.wasm, knowledge.json and question.json. Prints the last advice and times.
import { readFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const [exec, folder] = process.argv.slice(2);
await import(pathToFileURL(exec).href);
const read = (name) => readFileSync(join(folder, name), 'utf8');
const good = (answer) => {
  if (answer.error) throw new Error(answer.error);
  return answer;
};

const began = performance.now();
const go = new Go();
const { instance } = await WebAssembly.instantiate(readFileSync(join(folder, 'worth.wasm')), go.importObject);
void go.run(instance);
good(sextantWorth.know(read('knowledge.json')));
const asked = performance.now();
good(sextantWorth.ask(read('question.json')));
let answer = good(sextantWorth.refine());
const first = performance.now();
while (!answer.done) answer = good(sextantWorth.refine());
const settled = performance.now();
const out = { advice: JSON.parse(answer.advice), ready: asked - began, first: first - asked, settled: settled - asked };
writeSync(1, JSON.stringify(out));
process.exit(0);
