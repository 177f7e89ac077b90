package main

import (
	"fmt"

	"sextant/api"
)

// openapiCommand prints the description of the API.
type openapiCommand struct{}

// Run prints the document.
func (openapiCommand) Run(s *streams) error {
	doc, err := api.OpenAPI()
	if err != nil {
		return fmt.Errorf("describe the API: %w", err)
	}
	_, err = s.Out.Write(doc)
	return err
}
