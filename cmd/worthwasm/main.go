//go:build js && wasm

// Command worthwasm is package worth in a browser, for a selection board whose
// server is gone. deploy/lib.sh builds it for js/wasm; the app's worker
// (frontend/src/features/selection) runs it.
//
// It puts an object sextantWorth into the global scope: know(Knowledge),
// ask(Question) and refine(), which all take JSON texts and give
// {advice?: JSON text, done, error?}. They are called from one worker, know
// before ask before refine, and return when a batch of worlds is drawn.
package main

import (
	"syscall/js"

	"sextant/stats/worth"
)

// answer is what a function of ours gives to JavaScript.
func answer(advice []byte, done bool, err error) any {
	out := map[string]any{"done": done}
	if advice != nil {
		out["advice"] = string(advice)
	}
	if err != nil {
		out["error"] = err.Error()
	}
	return out
}

func main() {
	var desk *worth.Desk
	js.Global().Set("sextantWorth", js.ValueOf(map[string]any{
		"know": js.FuncOf(func(_ js.Value, args []js.Value) any {
			d, err := worth.NewDesk([]byte(args[0].String()))
			desk = d
			return answer(nil, false, err)
		}),
		"ask": js.FuncOf(func(_ js.Value, args []js.Value) any {
			return answer(nil, false, desk.Ask([]byte(args[0].String())))
		}),
		"refine": js.FuncOf(func(js.Value, []js.Value) any {
			return answer(desk.Refine())
		}),
	}))
	select {} // the functions are called as long as the worker lives
}
