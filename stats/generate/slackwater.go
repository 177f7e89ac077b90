package generate

import (
	"bytes"
	_ "embed"
)

//go:embed slackwater.json
var slackwaterFile []byte

// Slackwater is the game file of the invented game that the demo is played
// with, and that `sextant simulate` takes when it is given no other. Nothing in
// the program knows what is in it.
func Slackwater() []byte { return bytes.Clone(slackwaterFile) }
