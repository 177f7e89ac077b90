package api

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"

	"sextant/api/auth"
)

// The page /api/docs is made once at start, from the document itself, without
// any script.
var (
	//go:embed docs.html.tmpl
	docsTemplate string
	//go:embed docs.css
	docsStyle string
)

// docsPolicy allows the page's one style sheet and nothing else.
func docsPolicy() string {
	sum := sha256.Sum256([]byte(docsStyle))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
}

func (s *Server) getDocs(c echo.Context) error {
	c.Response().Header().Set("Content-Security-Policy", docsPolicy())
	return c.HTMLBlob(http.StatusOK, s.docs)
}

// describe makes the document and its page.
func (s *Server) describe(doc *huma.OpenAPI) error {
	var err error
	if s.document, err = json.Marshal(doc); err != nil {
		return fmt.Errorf("write the API's document: %w", err)
	}
	if s.docs, err = docsPage(doc); err != nil {
		return fmt.Errorf("write the API's page: %w", err)
	}
	return nil
}

type docsData struct {
	Title, Description, OpenAPI string
	Style                       template.CSS
	Operations                  []docsOperation
	Types                       []docsType
	Problems                    []docsProblem
}

type docsOperation struct {
	ID, Method, Path, Summary, Roles string
	Parameters                       []docsParameter
	Bodies                           []docsBody
}

type docsParameter struct {
	Name, In, Doc string
	Form          template.HTML
}

type docsBody struct {
	Direction, Media string
	Form             template.HTML
}

type docsType struct {
	Name    string
	Form    template.HTML
	Members []docsMember
}

type docsMember struct {
	Name, Doc string
	Required  bool
	Form      template.HTML
}

type docsProblem struct {
	Slug, Title, Advice string
	Status              int
}

func docsPage(doc *huma.OpenAPI) ([]byte, error) {
	page, err := template.New("docs").Parse(docsTemplate)
	if err != nil {
		return nil, err
	}
	data := docsData{
		Title: doc.Info.Title, Description: doc.Info.Description, OpenAPI: doc.OpenAPI,
		Style: template.CSS(docsStyle), // ours, embedded
	}
	for _, path := range slices.Sorted(maps.Keys(doc.Paths)) {
		item := doc.Paths[path]
		for _, op := range []*huma.Operation{item.Get, item.Post, item.Put, item.Patch, item.Delete} {
			if op != nil {
				data.Operations = append(data.Operations, docsOf(op))
			}
		}
	}
	schemas := doc.Components.Schemas.Map()
	for _, name := range slices.Sorted(maps.Keys(schemas)) {
		data.Types = append(data.Types, docsTypeOf(name, schemas[name]))
	}
	for _, k := range kinds {
		data.Problems = append(data.Problems, docsProblem{k.slug, k.title, k.advice, k.status})
	}
	var out bytes.Buffer
	err = page.Execute(&out, data)
	return out.Bytes(), err
}

func docsOf(op *huma.Operation) docsOperation {
	d := docsOperation{ID: op.OperationID, Method: op.Method, Path: op.Path, Summary: op.Summary, Roles: rolesOf(op.OperationID)}
	for _, p := range op.Parameters {
		d.Parameters = append(d.Parameters, docsParameter{p.Name, p.In, cmpDoc(p.Description, p.Schema), formOf(p.Schema)})
	}
	if op.RequestBody != nil {
		d.Bodies = append(d.Bodies, docsBodies("Takes", op.RequestBody.Content)...)
	}
	for _, status := range slices.Sorted(maps.Keys(op.Responses)) {
		if strings.HasPrefix(status, "2") {
			d.Bodies = append(d.Bodies, docsBodies("Answers "+status, op.Responses[status].Content)...)
		}
	}
	return d
}

func docsBodies(direction string, content map[string]*huma.MediaType) []docsBody {
	var out []docsBody
	for _, media := range slices.Sorted(maps.Keys(content)) {
		out = append(out, docsBody{direction, media, formOf(content[media].Schema)})
	}
	return out
}

// rolesOf says who may call an operation.
func rolesOf(id string) string {
	var names []string
	for _, r := range []auth.Role{auth.Account, auth.Lead, auth.Coach, auth.Scout} {
		if auth.Allowed(id, r) {
			names = append(names, string(r))
		}
	}
	if auth.Allowed(id, auth.Nobody) {
		return "everybody"
	}
	return strings.Join(names, ", ")
}

func docsTypeOf(name string, s *huma.Schema) docsType {
	d := docsType{Name: name}
	if s.Type != huma.TypeObject || len(s.Properties) == 0 {
		d.Form = formOf(s)
		return d
	}
	for _, member := range slices.Sorted(maps.Keys(s.Properties)) {
		m := s.Properties[member]
		d.Members = append(d.Members, docsMember{member, cmpDoc(m.Description, m), slices.Contains(s.Required, member), formOf(m)})
	}
	return d
}

func cmpDoc(doc string, s *huma.Schema) string {
	if doc == "" && s != nil {
		return s.Description
	}
	return doc
}

// formOf says the form of a value in words, with links to types.
func formOf(s *huma.Schema) template.HTML {
	esc := template.HTMLEscapeString
	switch {
	case s == nil:
		return ""
	case s.Ref != "":
		name := esc(s.Ref[strings.LastIndexByte(s.Ref, '/')+1:])
		return template.HTML(`<a href="#type-` + name + `">` + name + `</a>`)
	case len(s.OneOf) > 0:
		forms := make([]string, len(s.OneOf))
		for i, one := range s.OneOf {
			forms[i] = string(formOf(one))
		}
		return template.HTML(strings.Join(forms, " or "))
	case s.Type == huma.TypeArray:
		return "list of " + formOf(s.Items)
	case len(s.Enum) > 0:
		words := make([]string, len(s.Enum))
		for i, w := range s.Enum {
			words[i] = "<code>" + esc(fmt.Sprint(w)) + "</code>"
		}
		return template.HTML(strings.Join(words, ", "))
	case s.Type == "":
		return "any JSON"
	}
	if of, ok := s.AdditionalProperties.(*huma.Schema); ok {
		return "map from text to " + formOf(of)
	}
	if s.Format != "" {
		return template.HTML(esc(s.Type + " (" + s.Format + ")"))
	}
	return template.HTML(esc(s.Type))
}
