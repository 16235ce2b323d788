package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"thoud/capture/plan"
)

// planSchema is the schema of plan files, read by a library that knows nothing of this program.
func planSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	b, err := plan.Schema()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("plan.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("plan.json")
	if err != nil {
		t.Fatalf("the schema is none: %v", err)
	}
	return s
}

// keeps holds a plan's text against the schema, by way of TOML and JSON.
func keeps(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	var tree map[string]any
	if err := toml.Unmarshal(text, &tree); err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(v)
}

// Every plan that ships, and every one that ever shipped, keeps to the schema.
func TestPlansKeepToTheSchema(t *testing.T) {
	s := planSchema(t)
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		text, err := plan.ShippedText(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := keeps(t, s, text); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	files, err := filepath.Glob("../../testdata/plan/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no kept plans: %v", err)
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := keeps(t, s, text); err != nil {
			t.Errorf("%s: %v", f, err)
		}
	}
}

// What the schema refuses, the reader refuses too; and the schema finds what an editor should mark.
func TestThePlanSchemaFindsFaults(t *testing.T) {
	s := planSchema(t)
	const sound = `title = "T"
version = 1
cylinders = ["left", "right"]
[engine.bore]
value = "70 mm"
source = "measured"
[[step]]
id = "bores"
title = "Bores"
do = "Read the bores."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "bore" }
[[step.point]]
for = "cylinder"
id = "{cylinder}.top"
[step.compute]
method = "statistics"
inputs = { values = ["@readings:*.top"] }
`
	if err := keeps(t, s, []byte(sound)); err != nil {
		t.Fatalf("a sound plan: %v", err)
	}
	if _, err := plan.Parse("sound", []byte(sound)); err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{
		{`title = "T"`, `tittle = "T"`}, {`version = 1`, `version = "1"`}, {`value = "70 mm"`, "value = \"70 mm\"\nlist = [\"1 mm\"]"},
		{`source = "measured"`, `sauce = "measured"`}, {`phase = "dry"`, `phase = "wet"`}, {`kind = "measure"`, ``},
		{`mode = "press"`, `mode = "pres"`}, {`role = "bore"`, `role = "boregauge"`}, {`, role = "bore"`, ``},
		{`for = "cylinder"`, `for = "piston"`}, {`method = "statistics"`, ``}, {`values =`, `value =`}, {`id = "{cylinder}.top"`, `once = 1`},
	} {
		text := strings.Replace(sound, c[0], c[1], 1)
		if text == sound {
			t.Fatalf("the plan has no %s", c[0])
		}
		if keeps(t, s, []byte(text)) == nil {
			t.Errorf("%q for %q keeps to the schema", c[1], c[0])
		}
		if _, err := plan.Parse("test", []byte(text)); err == nil {
			t.Errorf("%q for %q: the schema refuses it, the reader takes it", c[1], c[0])
		}
	}
	if got := fmt.Sprint(keeps(t, s, []byte(strings.Replace(sound, "tit", "tat", 1)))); !strings.Contains(got, "tatle") {
		t.Errorf("the schema does not name the key: %s", got)
	}
}
