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

// build names the build for what is kept between runs: the commit, or nothing
// if the program was built from files that no commit has.
func build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	var commit string
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.modified" && s.Value == "true":
			return ""
		case s.Key == "vcs.revision":
			commit = s.Value
		}
	}
	return commit
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
