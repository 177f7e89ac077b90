// @ts-check
// A worker that tells what calls are worth on this device: it runs the server's
// own engine (cmd/worthwasm). wasm_exec.js and worth.wasm.gz stand beside it;
// deploy/lib.sh makes both.
//
// It is sent {id, known, question}, known only when it is another than before,
// and answers {id, advice?, error?, done} for each batch of worlds. A later
// question ends the one before.

/** @type {any} */
const scope = self;

/** @type {Promise<any> | undefined} */
let engine;
let newest = 0;

async function start() {
  scope.importScripts('wasm_exec.js');
  const packed = await fetch('worth.wasm.gz');
  if (!packed.ok || !packed.body) throw new Error('This device does not have the program that tells worths.');
  const program = new Response(packed.body.pipeThrough(new DecompressionStream('gzip')), {
    headers: { 'Content-Type': 'application/wasm' }
  });
  const go = new scope.Go();
  const { instance } = await WebAssembly.instantiateStreaming(program, go.importObject);
  void go.run(instance);
  return scope.sextantWorth;
}

/** @param {{advice?: string, done: boolean, error?: string}} answer */
function good(answer) {
  if (answer.error) throw new Error(answer.error);
  return answer;
}

/** Messages that wait come in between. */
const breathe = () => new Promise((go) => setTimeout(go));

/** @param {{id: number, known?: unknown, question: unknown}} message */
async function answer({ id, known, question }) {
  try {
    engine ??= start();
    const desk = await engine;
    if (known) good(desk.know(JSON.stringify(known)));
    if (id !== newest) return;
    good(desk.ask(JSON.stringify(question)));
    for (let done = false; !done && id === newest; await breathe()) {
      const next = good(desk.refine());
      done = next.done;
      postMessage({ id, advice: JSON.parse(String(next.advice)), done });
    }
  } catch (error) {
    engine = undefined; // it may have been the network
    postMessage({ id, error: error instanceof Error ? error.message : String(error), done: true });
  }
}

addEventListener('message', (/** @type {MessageEvent} */ { data }) => {
  newest = data.id;
  void answer(data);
});
