// Command sextant is a scouting and match-strategy server for teams of
// robotics competitions, and the tools that work on its files.
//
// It only wires: each command parses its flags, calls the packages below it
// and prints. Nothing imports it. One example:
//
//	sextant serve --data ./sextant-data
package main
