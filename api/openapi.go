package api

import (
	"encoding/json"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"sextant/stats/brief"
	"sextant/stats/game"
	"sextant/stats/record"
)

// config describes the API to huma.
func config() huma.Config {
	c := huma.DefaultConfig("Sextant", "1")
	c.Components.Schemas = huma.NewMapRegistry("#/components/schemas/", schemaName)
	c.Info.Description = "Scouting and match strategy for robotics competitions. Errors are problem documents (RFC 9457)."
	c.OpenAPIPath, c.DocsPath, c.SchemasPath = "", "", "" // see docs.go
	c.CreateHooks = nil
	format := huma.Format{Marshal: huma.DefaultJSONFormat.Marshal, Unmarshal: unmarshalJSON}
	c.Formats = map[string]huma.Format{"application/json": format, "json": format} // "json": also …+json
	c.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"session": {Type: "apiKey", In: "cookie", Name: cookieName, Description: "Given by sign-in, set-up or a join code"},
	}
	describeTypes(c.Components.Schemas)
	return c
}

// schemaName turns the names of our Go types into names for people.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.PkgPath() == reflect.TypeFor[brief.Brief]().PkgPath() && !strings.HasPrefix(name, "Brief") {
		name = "Brief" + name // what a robot is to a brief, and no other robot
	}
	for _, r := range []struct{ old, new string }{{"View", ""}, {"InputBody", "Request"}, {"OutputBody", "Answer"}} {
		if rest, ok := strings.CutSuffix(name, r.old); ok {
			return rest + r.new
		}
	}
	return name
}

// describeTypes tells the schema generator about types whose JSON form cannot
// be read off the Go type, and adds the bodies of records, which operations
// carry as any JSON because they depend on the game.
func describeTypes(r huma.Registry) {
	alias := func(t, as any) { r.RegisterTypeAlias(reflect.TypeOf(t), reflect.TypeOf(as)) }
	alias(record.MatchID{}, matchSchema(""))
	alias(record.TeamID(""), teamSchema(""))
	alias(record.Tap{}, tapSchema{})
	alias(record.Revision{}, revision{})
	alias(game.Answer{}, answerSchema{})
	alias(game.Value{}, valueSchema{})
	alias(game.Condition{}, conditionSchema{})
	for _, t := range []any{
		record.Observation{}, record.ResultBody{}, record.Mark{}, record.ListBody{}, record.EntryBody{}, record.NoteBody{},
		record.QuestionBody{}, record.Training{}, record.Judgement{}, record.SelectionBody{}, record.RotaBody{}, record.SeatBody{}, record.PitBody{}, record.PlayoffBody{},
		record.PinBody{}, record.RehearsalBody{}, record.AgreementBody{}, record.DebriefBody{}, record.SketchBody{},
	} {
		r.Schema(reflect.TypeOf(t), true, "")
	}
}

type (
	matchSchema     string
	teamSchema      string
	tapSchema       struct{}
	answerSchema    struct{}
	valueSchema     struct{}
	conditionSchema struct{}
)

// Schema describes a match as text.
func (matchSchema) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Pattern: `^[WQPF][1-9][0-9]{0,3}$`, Examples: []any{"Q31"}}
}

// Schema describes a team number as text.
func (teamSchema) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Pattern: `^[1-9][0-9]{0,4}[A-Z]?$`, Examples: []any{"40117"}}
}

// Schema describes a tap as an array.
func (tapSchema) Schema(huma.Registry) *huma.Schema {
	three, five := 3, 5
	return &huma.Schema{
		Type: huma.TypeArray, MinItems: &three, MaxItems: &five,
		Description: "[milliseconds since the start, action, step] or with [x, y] in metres",
		Items:       &huma.Schema{OneOf: []*huma.Schema{{Type: huma.TypeNumber}, {Type: huma.TypeString}}},
	}
}

// Schema describes an answer as a bare value.
func (answerSchema) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{OneOf: []*huma.Schema{{Type: huma.TypeNumber}, {Type: huma.TypeBoolean}, {Type: huma.TypeString}}}
}

// Schema describes a number or the name of one of the game's values.
func (valueSchema) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{OneOf: []*huma.Schema{{Type: huma.TypeNumber}, {Type: huma.TypeString}}}
}

// Schema describes "win", "tie" or an object; it refers to itself by name.
func (conditionSchema) Schema(r huma.Registry) *huma.Schema {
	const name = "Condition"
	self := &huma.Schema{Ref: "#/components/schemas/" + name}
	if _, ok := r.Map()[name]; !ok {
		list := &huma.Schema{Type: huma.TypeArray, Items: self}
		r.Map()[name] = &huma.Schema{OneOf: []*huma.Schema{
			{Type: huma.TypeString, Enum: []any{"win", "tie"}},
			{Type: huma.TypeObject, AdditionalProperties: false, Properties: map[string]*huma.Schema{
				"component": {Type: huma.TypeString},
				"at_least":  valueSchema{}.Schema(r),
				"more_than": {Type: huma.TypeString, Enum: []any{"opponent"}},
				"both":      {Type: huma.TypeString},
				"any":       list,
				"all":       list,
			}},
		}}
	}
	return self
}

// bodyIsGame documents a body that is checked by stats/game.
func bodyIsGame(op *huma.Operation, r huma.Registry) {
	op.SkipValidateBody = true
	op.RequestBody = jsonBody(r.Schema(reflect.TypeFor[game.Game](), true, ""))
}

// bodyIsPush documents a body that is checked item by item.
func bodyIsPush(op *huma.Operation, r huma.Registry) {
	op.SkipValidateBody = true
	op.RequestBody = jsonBody(r.Schema(reflect.TypeFor[pushRequest](), true, ""))
}

// bodyIsTable documents a table as JSON or CSV.
func bodyIsTable[T any](op *huma.Operation, r huma.Registry) {
	op.SkipValidateBody = true
	op.RequestBody = jsonBody(r.Schema(reflect.TypeFor[T](), true, ""))
	op.RequestBody.Content["text/csv"] = &huma.MediaType{Schema: &huma.Schema{Type: huma.TypeString}}
}

// bodyIsImport documents CSV or NDJSON.
func bodyIsImport(op *huma.Operation, _ huma.Registry) {
	op.SkipValidateBody = true
	text := &huma.MediaType{Schema: &huma.Schema{Type: huma.TypeString}}
	op.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{
		"text/csv": text, "application/x-ndjson": text,
	}}
}

// bodyIsArchive documents NDJSON.
func bodyIsArchive(op *huma.Operation, _ huma.Registry) {
	op.SkipValidateBody = true
	op.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{
		"application/x-ndjson": {Schema: &huma.Schema{Type: huma.TypeString}},
	}}
}

// bodyIsPrior documents estimates as another event gives them.
func bodyIsPrior(op *huma.Operation, r huma.Registry) {
	op.SkipValidateBody = true
	op.RequestBody = jsonBody(r.Schema(reflect.TypeFor[record.Estimate](), true, ""))
}

// pictures are the media types of a blob.
func pictures() map[string]*huma.MediaType {
	file := &huma.MediaType{Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}
	return map[string]*huma.MediaType{"image/jpeg": file, "image/png": file}
}

// bodyIsPicture documents an upload.
func bodyIsPicture(op *huma.Operation, _ huma.Registry) {
	op.SkipValidateBody = true
	op.RequestBody = &huma.RequestBody{Required: true, Content: pictures()}
}

// answerIsPicture documents a picture.
func answerIsPicture(op *huma.Operation, _ huma.Registry) {
	op.Responses = map[string]*huma.Response{"200": {Description: "The picture", Content: pictures()}}
}

func jsonBody(schema *huma.Schema) *huma.RequestBody {
	return &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{"application/json": {Schema: schema}}}
}

// answerIsEvents documents a stream of server-sent events.
func answerIsEvents(op *huma.Operation, r huma.Registry) {
	op.Responses = map[string]*huma.Response{"200": {
		Description: `Events named "change": the id is the change number, the data a ChangeMessage. For lead and coach also events named "analysis", without an id: the data is an AnalysisMessage, and says what is ready to be fetched. Comments keep the connection open.`,
		Content: map[string]*huma.MediaType{"text/event-stream": {Schema: &huma.Schema{OneOf: []*huma.Schema{
			r.Schema(reflect.TypeFor[changeMessage](), true, ""),
			r.Schema(reflect.TypeFor[analysisMessage](), true, ""),
		}}}},
	}}
}

// answerIsAdvice documents a stream of lines.
func answerIsAdvice(op *huma.Operation, r huma.Registry) {
	op.Responses = map[string]*huma.Response{"200": {
		Description: "One JSON object a line, an AdviceLine each: first the board, then ever better advice; an error that comes up meanwhile is the last line",
		Content:     map[string]*huma.MediaType{"application/x-ndjson": {Schema: r.Schema(reflect.TypeFor[adviceLine](), true, "")}},
	}}
}

// answerIsFile documents a download.
func answerIsFile(op *huma.Operation, _ huma.Registry) {
	file := &huma.MediaType{Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}
	op.Responses = map[string]*huma.Response{"200": {
		Description: "A file",
		Content:     map[string]*huma.MediaType{"text/csv": file, "application/zip": file, "application/x-ndjson": file},
	}}
}

// OpenAPI returns the API's OpenAPI 3.1 document, indented, with a newline at
// the end. It needs no store.
func OpenAPI() ([]byte, error) {
	doc, err := json.MarshalIndent(apiOf().OpenAPI(), "", "  ")
	return append(doc, '\n'), err
}
