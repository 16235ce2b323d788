package sheet

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
)

//go:embed sheet.schema.json
var schema []byte

// Schema is the JSON Schema (draft 2020-12) of what JSON writes.
func Schema() []byte { return append([]byte(nil), schema...) }

// JSON writes the sheet by Schema.
func JSON(w io.Writer, s Sheet) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		return fmt.Errorf("sheet of job %s as JSON: %w", s.Job, err)
	}
	return nil
}
