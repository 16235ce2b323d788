package plan

import (
	"bytes"
	"encoding/json"

	"thoud/calc"
)

// Schema is the JSON Schema (draft 2020-12) of a plan file, for editors that complete and check TOML by one. It is made from
// the tables by which the reader refuses: what breaks the schema is refused by the reader too. The reader finds more:
// references, units, order, and what an again takes over.
func Schema() ([]byte, error) {
	defs := map[string]any{}
	for _, t := range keyTables {
		defs[t.Name] = t.schema()
	}
	doc := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "a plan", "$ref": "#/$defs/plan", "$defs": defs}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	err := enc.Encode(doc)
	return out.Bytes(), err
}

// schema is the schema of one table.
func (k KeyTable) schema() map[string]any {
	props, need := map[string]any{}, []string{}
	for _, row := range k.Keys {
		s := row.schema()
		s["description"] = row.Words
		props[row.Name] = s
		if row.Need {
			need = append(need, row.Name)
		}
	}
	out := map[string]any{"type": "object", "description": k.Words, "properties": props, "additionalProperties": false}
	if len(need) > 0 {
		out["required"] = need
	}
	switch k.Name {
	case "step": // who measures again takes these over
		out["anyOf"] = []any{map[string]any{"required": []string{"again"}}, map[string]any{"required": []string{"title", "do", "kind"}}}
	case "engine":
		one := []any{}
		for _, name := range []string{"value", "list", "word", "derived"} {
			one = append(one, map[string]any{"required": []string{name}})
		}
		out["oneOf"] = one
	case "compute", "also":
		out["allOf"] = methodSchemas()
	}
	return out
}

// methodSchemas say which inputs each method has.
func methodSchemas() []any {
	var out []any
	for _, m := range calc.Methods() {
		props, need, free := map[string]any{}, []string{}, false
		for _, in := range m.Inputs {
			free = free || in.Name == calc.AnyName
			props[in.Name] = map[string]string{"description": in.Doc}
			if !in.Optional {
				need = append(need, in.Name)
			}
		}
		if free {
			continue
		}
		inputs := map[string]any{"properties": props, "additionalProperties": false}
		if len(need) > 0 {
			inputs["required"] = need
		}
		out = append(out, map[string]any{
			"if":   map[string]any{"properties": map[string]any{"method": map[string]string{"const": m.Name}}, "required": []string{"method"}},
			"then": map[string]any{"properties": map[string]any{"inputs": inputs}},
		})
	}
	return out
}

// schema is the schema of what stands behind a key.
func (row Key) schema() map[string]any {
	text := map[string]any{"type": "string", "minLength": 1, "maxLength": longText}
	// A name may hold what a step or point is written out for: {cylinder}.
	name := map[string]any{"type": "string", "pattern": "^[a-z0-9{][a-z0-9{}_-]*$", "maxLength": longID}
	amount := map[string]any{"type": []string{"string", "number"}}
	ref := map[string]any{"$ref": "#/$defs/" + row.Table}
	orList := func(one map[string]any) map[string]any {
		return map[string]any{"anyOf": []any{one, map[string]any{"type": "array", "items": one, "maxItems": maxList}}}
	}
	switch row.Form {
	case FormTexts:
		return orList(text)
	case FormName:
		return name
	case FormNames:
		return orList(name)
	case FormWord:
		return map[string]any{"enum": row.Enum}
	case FormFlag:
		return map[string]any{"type": "boolean"}
	case FormCount:
		return map[string]any{"type": "integer", "minimum": 1}
	case FormPieces:
		return map[string]any{"anyOf": []any{map[string]any{"type": "integer", "minimum": 1}, map[string]any{"type": "string", "pattern": "^[0-9]+ per (cylinder|valve)$"}}}
	case FormQuantity:
		return amount
	case FormAmounts:
		return orList(amount)
	case FormTable:
		return ref
	case FormTables:
		return orList(ref)
	case FormEach:
		return map[string]any{"type": "object", "propertyNames": map[string]any{"pattern": "^[a-z0-9][a-z0-9_-]*$"}, "additionalProperties": ref}
	case FormFree:
		return map[string]any{"type": "object"}
	}
	return text
}
