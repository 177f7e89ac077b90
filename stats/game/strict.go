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
	maxDocument = 1 << 20 // bytes
	maxDepth    = 32      // arrays and objects within each other
	maxSane     = 1 << 18 // bytes of a file that is checked further once something is wrong
)

// Document is a JSON document that was read strictly: see ReadJSON.
type Document struct {
	// Value is built of map[string]any, []any, string, float64, bool and nil.
	Value any

	name string
	data []byte
	at   map[string]int // pointer → offset in data; made when it is first asked for
}

// ReadJSON reads a JSON document (RFC 8259) as people who write one by hand
// need it: a member that stands twice in an object, text that is not UTF-8, a
// control character in a text (other than tab and line feed), a number beyond
// the range of binary64 and more than 32 levels are problems, each with its
// place; more than 1 MB is one, too. A byte order mark is skipped. Name is the
// file's name for the problems.
func ReadJSON(name string, data []byte) (*Document, Problems) {
	d := &Document{name: name, data: bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))}
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
	w := newWalker(d)
	d.Value = w.value()
	return d, w.problems
}

// Problem is a problem at a pointer of the document. A pointer to something
// that is not there gets the place of the nearest thing around it.
func (d *Document) Problem(pointer, format string, args ...any) Problem {
	return d.atOffset(d.offset(pointer), pointer, fmt.Sprintf(format, args...))
}

// place sorts problems, caps their number and gives each its place. Finding a
// place costs a walk over the text, so it comes last.
func (d *Document) place(ps Problems) Problems {
	ps = ps.sorted()
	for i, p := range ps {
		ps[i] = d.atOffset(d.offset(p.Pointer), p.Pointer, p.Message)
	}
	return ps
}

// offset is where the thing at a pointer begins, or the nearest thing around it.
func (d *Document) offset(pointer string) int {
	if d.at == nil {
		w := newWalker(d)
		w.at = map[string]int{}
		w.value()
		d.at = w.at
	}
	around := pointer
	for around != "" {
		if _, ok := d.at[around]; ok {
			break
		}
		around = around[:strings.LastIndexByte(around, '/')]
	}
	return d.at[around]
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
	path     []string       // escaped parts of the pointer to the value being read
	at       map[string]int // collects where values begin; nil: not wanted
	problems Problems
}

func newWalker(d *Document) *walker {
	w := &walker{doc: d, dec: json.NewDecoder(bytes.NewReader(d.data))}
	w.dec.UseNumber()
	return w
}

func (w *walker) pointer() string {
	if len(w.path) == 0 {
		return ""
	}
	return "/" + strings.Join(w.path, "/")
}

// problem notes a problem of what begins at an offset.
func (w *walker) problem(offset int, format string, args ...any) {
	if len(w.problems) < maxProblems {
		w.problems = append(w.problems, w.doc.atOffset(offset, w.pointer(), fmt.Sprintf(format, args...)))
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

// token reads a token; nil also for what cannot be read, which the check of
// the whole text before leaves nothing of.
func (w *walker) token() json.Token {
	tok, err := w.dec.Token()
	if err != nil {
		w.problem(int(w.dec.InputOffset()), "this cannot be read: %v", err)
		return nil
	}
	return tok
}

func (w *walker) value() any {
	from := w.start()
	if w.at != nil {
		w.at[w.pointer()] = from
	}
	switch t := w.token().(type) {
	case json.Number:
		n, err := strconv.ParseFloat(t.String(), 64)
		if err != nil || math.IsInf(n, 0) {
			w.problem(from, "%s is too large a number; write one below 1e308", clip(t.String()))
			return 0.0
		}
		return n
	case string:
		w.text(from, t)
		return t
	case bool:
		return t
	case json.Delim:
		if len(w.path) == maxDepth {
			w.problem(from, "more than %d levels; write it flatter", maxDepth)
			w.skip()
			return nil
		}
		if t == '[' {
			return w.array()
		}
		return w.object()
	}
	return nil
}

func (w *walker) array() any {
	out := []any{}
	for w.dec.More() {
		w.path = append(w.path, strconv.Itoa(len(out)))
		out = append(out, w.value())
		w.path = w.path[:len(w.path)-1]
	}
	w.token()
	return out
}

func (w *walker) object() any {
	out := map[string]any{}
	for w.dec.More() {
		from := w.start()
		name, ok := w.token().(string)
		if !ok {
			return out
		}
		w.path = append(w.path, escape(name))
		w.text(from, name)
		if _, twice := out[name]; twice {
			w.problem(from, "%q stands twice in this object; keep one", clip(name))
		}
		out[name] = w.value()
		w.path = w.path[:len(w.path)-1]
	}
	w.token()
	return out
}

// skip reads to the end of an array or object whose opening bracket was read.
func (w *walker) skip() {
	for level := 1; level > 0; {
		switch w.token() {
		case json.Delim('['), json.Delim('{'):
			level++
		case json.Delim(']'), json.Delim('}'):
			level--
		case nil:
			if len(w.problems) >= maxProblems {
				return
			}
		}
	}
}

// text checks a string that was just read: its value and the way it was written.
func (w *walker) text(from int, value string) {
	for _, r := range value {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			w.problem(from, "the text has the control character U+%04X; take it out", r)
			return
		}
	}
	if loneSurrogate(w.doc.data[from:w.dec.InputOffset()]) {
		w.problem(from, "the text has half of a surrogate pair; write the character itself")
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
