package main

import (
	"fmt"
	"runtime/debug"
)

// versionCommand prints which build this is.
type versionCommand struct{}

// Run prints one line.
func (versionCommand) Run(s *streams) error {
	_, err := fmt.Fprintln(s.Out, "sextant "+version())
	return err
}

// version is the module's version, or the commit it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return info.Main.Version
}
