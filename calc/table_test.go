package calc_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"strings"
	"testing"

	"thoud/calc"
)

// Every function that makes a method stands in the table, and every method of the table says what it is, and is tested.
func TestEveryMethodHasItsRowAndItsTest(t *testing.T) {
	made, listed, tests := map[string]string{}, map[string]bool{}, strings.Builder{}
	files, err := fs.Glob(os.DirFS("."), "*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(file, "_test.go") {
			if file != "table_test.go" {
				tests.Write(text)
			}
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, text, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Recv != nil {
				continue
			}
			if fn.Name.Name == "Methods" {
				ast.Inspect(fn, func(n ast.Node) bool {
					if call, ok := n.(*ast.CallExpr); ok {
						if id, ok := call.Fun.(*ast.Ident); ok {
							listed[id.Name] = true
						}
					}
					return true
				})
			}
			if res := fn.Type.Results; res != nil && len(res.List) == 1 && len(fn.Type.Params.List) == 0 {
				if id, ok := res.List[0].Type.(*ast.Ident); ok && id.Name == "Method" {
					made[fn.Name.Name] = file
				}
			}
		}
	}
	if len(made) < 40 {
		t.Fatalf("only %d methods found in the source: is the test looking in the right place?", len(made))
	}
	for name, file := range made {
		if !listed[name] {
			t.Errorf("the method %s() of calc/%s has no row: add it to Methods in calc/table.go", name, file)
		}
	}
	makers := map[string]string{} // the function that makes each method
	for name, file := range made {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		_, body, _ := strings.Cut(string(text), "func "+name+"() Method")
		_, rest, _ := strings.Cut(body, `Name: "`)
		method, _, _ := strings.Cut(rest, `"`)
		makers[method] = name
	}
	for _, m := range calc.Methods() {
		if m.Title == "" || m.Formula == "" || m.Source == "" || len(m.Figures) == 0 {
			t.Errorf("method %q lacks a title, a formula, a source or figures: say them in its file, its help is made of them", m.Name)
		}
		if !strings.Contains(tests.String(), `"`+m.Name+`"`) && !strings.Contains(tests.String(), makers[m.Name]+"()") {
			t.Errorf("method %q is named in no test of calc: add a table of checks with the source of each", m.Name)
		}
	}
}
