package calc

import (
	"fmt"
	"strings"
)

// Validate says what is wrong with a method's row: a programmer's mistake, found by a test of the table.
func (m Method) Validate() error {
	for what, s := range map[string]string{"name": m.Name, "title": m.Title, "formula": m.Formula, "source": m.Source} {
		if strings.TrimSpace(s) == "" {
			return fmt.Errorf("no %s", what)
		}
	}
	if m.Version < 1 {
		return fmt.Errorf("version %d, want 1 or more", m.Version)
	}
	if m.Compute == nil || len(m.Inputs) == 0 || len(m.Figures) == 0 {
		return fmt.Errorf("no computation, inputs or figures")
	}
	if len(m.Cautions) == 0 {
		return fmt.Errorf("no cautions")
	}
	seen := map[string]bool{}
	for _, f := range m.Figures {
		if seen[f.Name] || f.Name == "" {
			return fmt.Errorf("figure %q: empty or twice", f.Name)
		}
		seen[f.Name] = true
		if f.Doc == "" {
			return fmt.Errorf("figure %s: no doc", f.Name)
		}
	}
	return validateInputs(m.Inputs)
}

func validateInputs(inputs []Input) error {
	seen := map[string]bool{}
	for _, in := range inputs {
		if seen[in.Name] || in.Name == "" {
			return fmt.Errorf("input %q: empty or twice", in.Name)
		}
		seen[in.Name] = true
		if in.Doc == "" {
			return fmt.Errorf("input %s: no doc", in.Name)
		}
		nested := in.Shape == Record || in.Shape == Records
		if nested != (len(in.Fields) > 0) {
			return fmt.Errorf("input %s: fields are for records, and records need them", in.Name)
		}
		if len(in.Enum) > 0 && in.Shape != Text && in.Shape != TextList {
			return fmt.Errorf("input %s: words are for texts", in.Name)
		}
		if err := validateInputs(in.Fields); err != nil {
			return fmt.Errorf("%s: %w", in.Name, err)
		}
	}
	return nil
}
