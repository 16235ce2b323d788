package markup

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"text/template/parse"

	"pgregory.net/rapid"
)

// programs are the files of templates of this program.
func programs(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, pattern := range []string{"../../pipeline/monitor/pages/*.html", "../../store/sheet/*.gohtml"} {
		names, err := filepath.Glob(pattern)
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: no templates, %v", pattern, err)
		}
		for _, name := range names {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			out[filepath.Dir(name)] += string(text)
		}
	}
	return out
}

// called lists the functions that templates call.
func called(t *testing.T, text string) []string {
	t.Helper()
	tree := parse.New("")
	tree.Mode = parse.SkipFuncCheck
	trees := map[string]*parse.Tree{}
	if _, err := tree.Parse(text, "{{", "}}", trees); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, tree := range trees {
		eachNode(tree.Root, func(n parse.Node) {
			if id, ok := n.(*parse.IdentifierNode); ok {
				out = append(out, id.Ident)
			}
		})
	}
	return out
}

// eachNode calls do with a node and all within it, in the order of the text.
func eachNode(n parse.Node, do func(parse.Node)) {
	if v := reflect.ValueOf(n); n == nil || v.Kind() == reflect.Pointer && v.IsNil() {
		return
	}
	do(n)
	branch := func(b *parse.BranchNode) {
		eachNode(b.Pipe, do)
		eachNode(b.List, do)
		eachNode(b.ElseList, do)
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, each := range n.Nodes {
			eachNode(each, do)
		}
	case *parse.ActionNode:
		eachNode(n.Pipe, do)
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.TemplateNode:
		eachNode(n.Pipe, do)
	case *parse.PipeNode:
		for _, c := range n.Cmds {
			for _, arg := range c.Args {
				eachNode(arg, do)
			}
		}
	case *parse.ChainNode:
		eachNode(n.Node, do)
	}
}

// escapersOf names what html/template puts behind the values of a place.
func escapersOf(e escaper) string {
	for names, f := range map[string]escaper{
		"html": escapeText, "attr": escapeAttr, "rcdata": escapeRaw, "cssvalue": onlyStyle,
		"url-url-attr": escapeAddress, "urlnormalizer-attr": escapeRoute, "urlescaper-attr": escapeQuery,
	} {
		if reflect.ValueOf(e).Pointer() == reflect.ValueOf(f).Pointer() {
			return names
		}
	}
	return "?"
}

// theirs gives the same of an action that html/template has been through.
func theirs(n *parse.ActionNode) string {
	var out []string
	for _, c := range n.Pipe.Cmds {
		if id, ok := c.Args[0].(*parse.IdentifierNode); ok {
			if name, ok := strings.CutPrefix(id.Ident, "_html_template_"); ok {
				out = append(out, name)
			}
		}
	}
	switch strings.Join(out, " ") {
	case "htmlescaper":
		return "html"
	case "attrescaper":
		return "attr"
	case "rcdataescaper":
		return "rcdata"
	case "cssvaluefilter":
		return "cssvalue"
	case "urlfilter urlnormalizer attrescaper":
		return "url-url-attr"
	case "urlnormalizer attrescaper":
		return "urlnormalizer-attr"
	case "urlescaper attrescaper":
		return "urlescaper-attr"
	}
	return strings.Join(out, " ")
}

// TestEveryValueIsEscapedAsTheStandardLibraryWould holds what is chosen for each value of every template of this program
// against html/template's choice.
func TestEveryValueIsEscapedAsTheStandardLibraryWould(t *testing.T) {
	for folder, text := range programs(t) {
		ours := Funcs{}
		for _, name := range called(t, text) {
			if _, std := builtins()[name]; !std && name != "and" && name != "or" {
				ours[name] = func(...any) string { return "" }
			}
		}
		set, err := Parse("all", text, ours)
		if err != nil {
			t.Fatalf("%s: %v", folder, err)
		}
		std := template.Must(template.New("all").Funcs(template.FuncMap(ours)).Parse(text))
		checked := 0
		for _, name := range set.Names() {
			_ = std.ExecuteTemplate(io.Discard, name, nil) // escapes it first; that it has no data is nothing to us
			var want, got []string
			eachNode(std.Lookup(name).Tree.Root, func(n parse.Node) {
				if a, ok := n.(*parse.ActionNode); ok && len(a.Pipe.Decl) == 0 {
					want = append(want, theirs(a))
				}
			})
			eachNode(set.trees[name].Root, func(n parse.Node) {
				if a, ok := n.(*parse.ActionNode); ok && len(a.Pipe.Decl) == 0 {
					got = append(got, escapersOf(set.escapes[a]))
				}
			})
			if !slices.Equal(got, want) {
				t.Errorf("%s, template %s:\n got %v\nwant %v", folder, name, got, want)
			}
			checked += len(got)
		}
		if checked < 50 {
			t.Errorf("%s: only %d values looked at", folder, checked)
		}
	}
}

// both runs a template here and in html/template.
func both(t interface{ Fatalf(string, ...any) }, text string, funcs Funcs, data any) (ours, std string, err, stdErr error) {
	set, err := Parse("t", text, funcs)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	var a, b bytes.Buffer
	err = set.Execute(&a, "t", data)
	stdErr = template.Must(template.New("t").Funcs(template.FuncMap(funcs)).Parse(text)).Execute(&b, data)
	return a.String(), b.String(), err, stdErr
}

// places are a value in every place that is allowed.
func places() []string {
	return []string{
		`<p>{{.}}</p>`, `<a title="{{.}}">x</a>`, `<a title='a {{.}} b'>x</a>`, `<title>{{.}}</title>`, `<textarea>{{.}}</textarea>`,
		`<a href="{{.}}">x</a>`, `<a href="/x/{{.}}">x</a>`, `<a href="/x?a={{.}}">x</a>`, `<a href="/x#{{.}}">x</a>`, `<a href="/x/{{.}}?b={{.}}&amp;c={{.}}">x</a>`,
		`<img src='{{.}}'>`, `<form action="{{.}}"></form>`, `<p data-url="{{.}}"></p>`, `<p data-x="{{.}}"></p>`, `<a href="{{.}}/{{.}}">x</a>`,
		`<svg><path d="M{{.}} 0"/></svg>`, `<input value="{{.}}" checked>`, `<A HREF="{{.}}">x</A>`, `<p class=x title="{{.}}">a &lt; b</p>`,
	}
}

// TestValuesAsTheStandardLibraryWritesThem draws texts and compares every place, byte for byte, with html/template.
func TestValuesAsTheStandardLibraryWritesThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(
			rapid.String(),
			rapid.StringMatching(`[<>"'&+%?#:/=a-zA-Z0-9 ;\x00-\x1f]{0,30}`),
			rapid.StringMatching(`(javascript|JaVaScript|data|http|HTTPS|mailto|vbscript| javascript|x/)?:[ -~]{0,12}`),
			rapid.StringMatching(`(%[0-9a-fA-F]{0,2}|[ -~])*`),
		).Draw(t, "text")
		place := rapid.SampledFrom(places()).Draw(t, "place")
		var data any = text
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 1:
			data = &text
		case 2:
			data = rapid.Float64().Draw(t, "number")
		case 3:
			if strings.Contains(place, "href") || strings.Contains(place, "src") {
				data = URL(text)
			}
		}
		ours, std, err, stdErr := both(t, place, nil, data)
		if err != nil || stdErr != nil || ours != std {
			t.Fatalf("%s with %#v:\nours %q %v\n std %q %v", place, data, ours, err, std, stdErr)
		}
	})
}

type piece struct {
	Name  string
	N     uint64
	Sizes []float64
	Next  *piece
	Any   any
	By    map[string]int
	Word  word
}

type word string

func (w word) String() string { return "word " + string(w) }

// TestTemplatesRunAsInTheStandardLibrary compares what a template may hold.
func TestTemplatesRunAsInTheStandardLibrary(t *testing.T) {
	data := piece{Name: "a<b", N: 3, Sizes: []float64{1.5, 0, 2}, Any: []string{"x", "y"}, By: map[string]int{"b": 2, "a": 1}, Word: "w",
		Next: &piece{Name: "next", Any: HTML("<b>bold</b>")}}
	funcs := Funcs{
		"up":   strings.ToUpper,
		"bold": func(s string) HTML { return HTML("<b>" + Escape(s) + "</b>") },
		"sum": func(x ...int) int {
			n := 0
			for _, v := range x {
				n += v
			}
			return n
		},
		"fails": func() (string, error) { return "", fmt.Errorf("no luck") },
		"name":  func(p piece) string { return p.Name },
		"add":   func(n uint64) uint64 { return n + 1 },
	}
	for _, text := range []string{
		`{{.Name}} {{.N}} {{.Word}} {{.Any}} {{.By}} {{.Next.Any}}`,
		`{{if .Next.Next}}a{{else if .N}}b{{else}}c{{end}}`, `{{if and .Name .N}}a{{end}}{{if or .Next.Next .By}}b{{end}}{{if not .Next.Next}}c{{end}}`,
		`{{with .Next}}{{.Name}} {{$.Name}}{{end}}{{with .Next.Next}}x{{else}}none{{end}}`, `{{with .Next.By}}x{{else with .Next.Name}}{{.}}{{end}}`,
		`{{range .Sizes}}[{{.}}]{{end}}{{range $i, $s := .Sizes}}{{$i}}={{$s}} {{end}}{{range .Next.Sizes}}x{{else}}none{{end}}`,
		`{{range $k, $v := .By}}{{$k}}{{$v}}{{end}}{{range .Any}}{{.}}{{end}}`,
		`{{$x := 1}}{{range .Sizes}}{{$x = .}}{{end}}{{$x}}{{if true}}{{$x := 9}}{{$x}}{{end}}{{$x}}`,
		`{{eq .N 3}}{{eq .Name "x" "a<b"}}{{ne .N 4}}{{lt 1 2}}{{gt .N 2}}{{le 2 2}}{{ge 1 2}}{{lt "a" "b"}}{{eq .Word "w"}}`,
		`{{len .Sizes}}{{len .Name}}{{index .Sizes 2}}{{index .By "a"}}{{index .By "none"}}{{index .Any 1}}`,
		`{{.Name | up}}{{"x" | up | bold}}{{bold (up .Name)}}{{sum 1 2 3}}{{sum}}{{print .N "a" 1 2}}{{name .Next}}{{name $}}{{add .N}}{{add 4}}`,
		`{{.By.none}}{{.By.a}}{{(index .Sizes 0)}}{{(.Next).Name}}`,
		`{{define "x"}}[{{.}} {{$}}]{{end}}{{template "x" .Name}}{{template "x"}}`,
		`a {{- " b " -}} c {{/* nothing */}} d`, `{{fails}}`, `{{.None}}`, `{{.Next.Next.Name}}`, `{{index .Sizes 9}}`, `{{template "none"}}`, `{{up .N}}`, `{{up}}`,
		`{{1.5}} {{"q\"q"}} {{true}} {{'a'}} {{0x10}} {{nil | print}}`, `{{lt .Name 1}}`, `{{len 3}}`,
	} {
		ours, std, err, stdErr := both(t, text, funcs, data)
		if (err != nil) != (stdErr != nil) || err == nil && ours != std {
			t.Errorf("%s:\nours %q %v\n std %q %v", text, ours, err, std, stdErr)
		}
	}
}

// TestWhatIsRefused reads what would be unsafe, or what is not known here.
func TestWhatIsRefused(t *testing.T) {
	for _, text := range []string{
		`<p {{.}}>`, `<p title={{.}}>`, `<p {{.}}="x">`, `<p onclick="{{.}}">`, `<p style="{{.}}">`, `<img srcset="{{.}}">`, `<script>{{.}}</script>`,
		`<p title="`, `<p title="{{if .}}"{{end}}>`, `<{{.}}>`, `<!-- x -->`, `<p {{template "t"}}>`, `{{range .}}<p title="{{end}}`, `{{none}}`, `a < b`,
		`{{range .}}{{break}}{{end}}`, `<iframe srcdoc="{{.}}">`,
	} {
		if _, err := Parse("p", text, nil); err == nil {
			t.Errorf("%s is taken", text)
		}
	}
	if _, err := Parse("p", "", Funcs{"two": func() (int, int) { return 1, 2 }}); err == nil {
		t.Error("a function with two results is taken")
	}
	for text, data := range map[string]any{
		`<style>{{.}}</style>`: "p{}", `<p title="{{.}}">`: HTML("<b>"), `{{.Shown}}`: struct{ N int }{}, `{{.String}}`: word("x"),
	} {
		set, err := Parse("p", text, nil)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if err := set.Execute(io.Discard, "p", data); err == nil || !strings.HasPrefix(err.Error(), "template: p:1:") {
			t.Errorf("%s with %T: %v", text, data, err)
		}
	}
	set, err := Parse("p", `{{define "again"}}{{template "again"}}{{end}}{{template "again"}}`, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := set.Execute(io.Discard, "p", nil); err == nil || !strings.Contains(err.Error(), "deep") {
		t.Errorf("a template that calls itself: %v", err)
	}
}
