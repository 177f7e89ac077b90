package game

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
)

//go:embed game.schema.json
var schemaFile []byte

// The schemas inside the file.
const (
	gameSchema  = "urn:sextant:game"
	eventSchema = gameSchema + "#/$defs/event"
)

// Schema is the JSON Schema (draft 2020-12) of a game file, as shipped. Its
// definition "event" is the schema of an event file.
func Schema() []byte { return bytes.Clone(schemaFile) }

// schemas are compiled once; the file is part of the program, so that a failure
// is a fault of the build and not of any input.
var schemas = sync.OnceValue(func() map[string]*jsonschema.Schema {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemaFile))
	if err != nil {
		panic(fmt.Sprintf("game.schema.json: %v", err))
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource(gameSchema, doc); err != nil {
		panic(fmt.Sprintf("game.schema.json: %v", err))
	}
	return map[string]*jsonschema.Schema{
		gameSchema:  c.MustCompile(gameSchema),
		eventSchema: c.MustCompile(eventSchema),
	}
})

// descriptions are the "description" texts of the schema by absolute location:
// they say what to write.
var descriptions = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemaFile))
	if err != nil {
		panic(fmt.Sprintf("game.schema.json: %v", err))
	}
	var walk func(v any, at string)
	walk = func(v any, at string) {
		switch v := v.(type) {
		case map[string]any:
			if text, ok := v["description"].(string); ok {
				out[at] = text
			}
			for name, child := range v {
				walk(child, at+"/"+escape(name))
			}
		case []any:
			for i, child := range v {
				walk(child, fmt.Sprintf("%s/%d", at, i))
			}
		}
	}
	walk(doc, gameSchema+"#")
	return out
})

// checkSchema tells what a document breaks of one of the schemas. The problems
// have no place yet; see Document.place.
func checkSchema(doc *Document, schema string) Problems {
	err := schemas()[schema].Validate(doc.Value)
	if err == nil {
		return nil
	}
	var invalid *jsonschema.ValidationError
	if !errors.As(err, &invalid) {
		return Problems{problemf("", "this cannot be checked: %v", err)}
	}
	var out Problems
	var walk func(e *jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		switch e.ErrorKind.(type) {
		case *kind.OneOf, *kind.AnyOf, *kind.Not: // what they try inside says nothing to people
		default:
			if len(e.Causes) > 0 {
				for _, cause := range e.Causes {
					walk(cause)
				}
				return
			}
		}
		out = append(out, explain(e)...)
	}
	walk(invalid)
	return out
}

// explain puts one finding of the schema checker into a sentence.
func explain(e *jsonschema.ValidationError) Problems {
	parts := make([]any, len(e.InstanceLocation))
	for i, part := range e.InstanceLocation {
		parts[i] = part
	}
	pointer := Pointer(parts...)
	hint := descriptions()[e.SchemaURL]
	one := func(format string, args ...any) Problems {
		return Problems{problemf(pointer, format, args...)}
	}
	switch k := e.ErrorKind.(type) {
	case *kind.Type:
		return one("this is %s; write %s", article(k.Got), articles(k.Want))
	case *kind.Enum:
		return one("%s is not known here; write %s", show(k.Got), oneOf(k.Want))
	case *kind.Const:
		return one("%s does not fit here; write %s", show(k.Got), show(k.Want))
	case *kind.Required:
		return one("%s missing; add %s", isAre(k.Missing), them(k.Missing))
	case *kind.DependentRequired:
		return one("beside %q %s missing; add %s", k.Prop, isAre(k.Missing), them(k.Missing))
	case *kind.AdditionalProperties:
		var out Problems
		for _, name := range k.Properties {
			out = append(out, problemf(pointer+"/"+escape(name), "%q is not known here; take it out, or correct its spelling", clip(name)))
		}
		return out
	case *kind.Minimum:
		return one("%s is too small; write %s or more", number(k.Got), number(k.Want))
	case *kind.ExclusiveMinimum:
		return one("%s is too small; write more than %s", number(k.Got), number(k.Want))
	case *kind.Maximum:
		return one("%s is too large; write %s or less", number(k.Got), number(k.Want))
	case *kind.MinItems:
		return one("there are %d entries; write at least %d", k.Got, k.Want)
	case *kind.MaxItems:
		return one("there are %d entries; write at most %d", k.Got, k.Want)
	case *kind.MaxProperties:
		return one("there are %d members; write at most %d", k.Got, k.Want)
	case *kind.UniqueItems:
		return one("entry %d and entry %d are the same; keep one", k.Duplicates[0], k.Duplicates[1])
	case *kind.MaxLength:
		return one("the text has %d characters; write at most %d", k.Got, k.Want)
	case *kind.Pattern:
		return one("%q does not have the right form. %s", clip(k.Got), hint)
	case *kind.OneOf, *kind.Not, *kind.AnyOf:
		return one("this does not fit here. %s", hint)
	}
	return one("this does not fit here: %v", e)
}

func show(v any) string {
	if s, ok := v.(string); ok {
		return fmt.Sprintf("%q", clip(s))
	}
	return fmt.Sprint(v)
}

func oneOf(values []any) string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = show(v)
	}
	if len(words) == 1 {
		return words[0]
	}
	return "one of " + strings.Join(words, ", ")
}

func article(typ string) string {
	switch typ {
	case "array", "object", "integer":
		return "an " + typ
	case "null":
		return "null"
	}
	return "a " + typ
}

func articles(types []string) string {
	words := make([]string, len(types))
	for i, t := range types {
		words[i] = article(t)
	}
	return strings.Join(words, " or ")
}

func isAre(names []string) string {
	if len(names) == 1 {
		return fmt.Sprintf("%q is", names[0])
	}
	quoted := make([]string, len(names))
	for i, name := range slices.Sorted(slices.Values(names)) {
		quoted[i] = fmt.Sprintf("%q", name)
	}
	return strings.Join(quoted, ", ") + " are"
}

func them(names []string) string {
	if len(names) == 1 {
		return "it"
	}
	return "them"
}

func number(r *big.Rat) string {
	f, _ := r.Float64()
	return fmt.Sprintf("%.10g", f)
}
