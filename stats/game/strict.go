package game

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Limits against input that is made to hurt.
const (
	maxDocument = 4 << 20 // bytes
	maxDepth    = 32      // arrays and objects within each other
)

// Document is a JSON document that was read strictly: see ReadJSON.
type Document struct {
	// Value is built of map[string]any, []any, string, float64, bool and nil.
	Value any

	name string
	data []byte
	at   map[string]int // pointer → offset in data
}

// ReadJSON reads a JSON document (RFC 8259) as people who write one by hand
// need it: a member that stands twice in an object, text that is not UTF-8, a
// control character in a text (other than tab and line feed), a number beyond
// the range of binary64 and more than 32 levels are problems, each with its
// place. A byte order mark is skipped. Name is the file's name for the problems.
func ReadJSON(name string, data []byte) (*Document, Problems) {
	d := &Document{name: name, data: bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), at: map[string]int{"": 0}}
	if len(d.data) > maxDocument {
		return d, Problems{{File: name, Message: fmt.Sprintf("the file has %d bytes; %d is the limit: make it smaller", len(data), maxDocument)}}
	}
	if len(bytes.TrimSpace(d.data)) == 0 {
		return d, Problems{{File: name, Line: 1, Column: 1, Message: "the file is empty; write a JSON object"}}
	}
	if i := invalidUTF8(d.data); i >= 0 {
		return d, Problems{d.atOffset(i, "", "the text is not UTF-8; save the file as UTF-8")}
	}
	var whole json.RawMessage
	if err := json.Unmarshal(d.data, &whole); err != nil {
		offset := 0
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			offset = int(syntax.Offset) - 1
		}
		return d, Problems{d.atOffset(offset, "", fmt.Sprintf("this is not JSON: %v; mend the text at this place", err))}
	}
	w := walker{doc: d, dec: json.NewDecoder(bytes.NewReader(d.data))}
	w.dec.UseNumber()
	d.Value = w.value("", 0)
	return d, w.problems
}

// Problem is a problem at a pointer of the document. A pointer to something
// that is not there gets the place of the nearest thing around it.
func (d *Document) Problem(pointer, format string, args ...any) Problem {
	around := pointer
	for {
		if at, ok := d.at[around]; ok {
			return d.atOffset(at, pointer, fmt.Sprintf(format, args...))
		}
		around = around[:max(strings.LastIndexByte(around, '/'), 0)]
	}
}

// atOffset is a problem at a byte of the document.
func (d *Document) atOffset(offset int, pointer, message string) Problem {
	before := d.data[:min(max(offset, 0), len(d.data))]
	return Problem{
		File: d.name, Pointer: pointer, Message: message,
		Line:   1 + bytes.Count(before, []byte("\n")),
		Column: 1 + utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:]),
	}
}

func invalidUTF8(b []byte) int {
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

// walker builds the value of a document that is known to be JSON.
type walker struct {
	doc      *Document
	dec      *json.Decoder
	problems Problems
}

func (w *walker) problem(pointer, format string, args ...any) {
	if len(w.problems) < maxProblems {
		w.problems = append(w.problems, w.doc.Problem(pointer, format, args...))
	}
}

// start is where the next token begins.
func (w *walker) start() int {
	i := int(w.dec.InputOffset())
	for i < len(w.doc.data) && strings.IndexByte(" \t\r\n,:", w.doc.data[i]) >= 0 {
		i++
	}
	return i
}

func (w *walker) value(pointer string, depth int) any {
	from := w.start()
	w.doc.at[pointer] = from
	tok, err := w.dec.Token()
	if err != nil {
		// The text was checked before; what is left to fail is its depth.
		w.problem(pointer, "this cannot be read: %v", err)
		return nil
	}
	switch t := tok.(type) {
	case json.Number:
		n, err := strconv.ParseFloat(t.String(), 64)
		if err != nil || math.IsInf(n, 0) {
			w.problem(pointer, "%s is too large a number; write one below 1e308", clip(t.String()))
			return 0.0
		}
		return n
	case string:
		w.text(pointer, t, w.doc.data[from:w.dec.InputOffset()])
		return t
	case json.Delim:
		if depth == maxDepth {
			w.problem(pointer, "more than %d levels; write it flatter", maxDepth)
			w.skip()
			return nil
		}
		if t == '[' {
			return w.array(pointer, depth)
		}
		return w.object(pointer, depth)
	}
	return tok
}

func (w *walker) array(pointer string, depth int) any {
	out := []any{}
	for w.dec.More() {
		out = append(out, w.value(pointer+"/"+strconv.Itoa(len(out)), depth+1))
	}
	w.end()
	return out
}

func (w *walker) object(pointer string, depth int) any {
	out := map[string]any{}
	for w.dec.More() {
		from := w.start()
		tok, err := w.dec.Token()
		if err != nil {
			w.problem(pointer, "this cannot be read: %v", err)
			return out
		}
		name, _ := tok.(string)
		member := pointer + "/" + escape(name)
		_, twice := out[name]
		w.doc.at[member] = from
		w.text(member, name, w.doc.data[from:w.dec.InputOffset()])
		if twice {
			w.problem(member, "%q stands twice in this object; keep one", clip(name))
		}
		out[name] = w.value(member, depth+1)
	}
	w.end()
	return out
}

// end reads a closing bracket.
func (w *walker) end() {
	if _, err := w.dec.Token(); err != nil {
		w.problem("", "this cannot be read: %v", err)
	}
}

// skip reads to the end of an array or object whose opening bracket was read.
func (w *walker) skip() {
	for level := 1; level > 0; {
		tok, err := w.dec.Token()
		if err != nil {
			return
		}
		switch tok {
		case json.Delim('['), json.Delim('{'):
			level++
		case json.Delim(']'), json.Delim('}'):
			level--
		}
	}
}

// text checks a string: its value and the way it was written.
func (w *walker) text(pointer, value string, raw []byte) {
	for _, r := range value {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			w.problem(pointer, "the text has the control character U+%04X; take it out", r)
			return
		}
	}
	if loneSurrogate(raw) {
		w.problem(pointer, "the text has half of a surrogate pair; write the character itself")
	}
}

// loneSurrogate reports a \ud800 to \udfff escape without its other half
// (RFC 8259, section 8.2), which a decoder would replace without a word.
func loneSurrogate(raw []byte) bool {
	for i := 0; i+1 < len(raw); i++ {
		if raw[i] != '\\' {
			continue
		}
		i++
		if raw[i] != 'u' {
			continue
		}
		switch hex4(raw, i+1) & 0xfc00 {
		case 0xdc00:
			return true
		case 0xd800:
			if !bytes.HasPrefix(raw[i+5:], []byte(`\u`)) || hex4(raw, i+7)&0xfc00 != 0xdc00 {
				return true
			}
			i += 6
		}
	}
	return false
}

func hex4(raw []byte, at int) uint64 {
	if at+4 > len(raw) {
		return 0
	}
	n, err := strconv.ParseUint(string(raw[at:at+4]), 16, 16)
	if err != nil {
		return 0
	}
	return n
}

// clip shortens a text of the input for a message.
func clip(s string) string {
	if utf8.RuneCountInString(s) <= 40 {
		return s
	}
	return string([]rune(s)[:40]) + "…"
}
