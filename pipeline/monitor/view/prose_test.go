package view

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestProse writes each mark that the guide uses.
func TestProse(t *testing.T) {
	got := string(Prose("# Gauges\n\nAny <b>gauge</b> & `a|b`\ngoes **on**, *out*, 2 * 3.\n\n    thoud ports\n    thoud run\n\n- one\n  goes on\n- two\n\n| key | what |\n| --- | --- |\n| `x|y` | is 1 < 2 |\n\nA lone ` and a lone **.\n"))
	want := "<h1>Gauges</h1>\n<p>Any &lt;b&gt;gauge&lt;/b&gt; &amp; <code>a|b</code> goes <strong>on</strong>, <em>out</em>, 2 * 3.</p>\n<pre tabindex=\"0\">thoud ports\nthoud run</pre>\n" +
		"<ul>\n<li>one goes on</li>\n<li>two</li>\n</ul>\n<div class=\"scroll\" tabindex=\"0\">\n<table>\n<tr><th scope=\"col\">key</th><th scope=\"col\">what</th></tr>\n" +
		"<tr><th scope=\"row\"><code>x|y</code></th><td>is 1 &lt; 2</td></tr>\n</table>\n</div>\n<p>A lone ` and a lone **.</p>\n"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// TestProseIsNeverMarkup says that whatever a text holds, what comes of it is well formed, has no other elements than ours and
// no attribute that does anything, and ends.
func TestProseIsNeverMarkup(t *testing.T) {
	known := map[string]bool{"h1": true, "h2": true, "h3": true, "h4": true, "p": true, "pre": true, "ul": true, "li": true, "div": true, "table": true, "tr": true, "th": true, "td": true, "code": true, "strong": true, "em": true, "x": true}
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOf(rapid.SampledFrom([]string{"# ", "- ", "  ", "    ", "| ", "|", "---", "`", "**", "*", "<script>alert(1)</script>", "<img onerror=x>", "a\"b'", "&amp;", "\n", "\n\n", "word ", "[x](javascript:y)"})).Draw(t, "pieces"), "")
		dec := xml.NewDecoder(strings.NewReader("<x>" + string(Prose(text)) + "</x>"))
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%q: %v", text, err)
			}
			e, ok := tok.(xml.StartElement)
			if !ok {
				continue
			}
			if !known[e.Name.Local] {
				t.Fatalf("%q: element %s", text, e.Name.Local)
			}
			for _, a := range e.Attr {
				if a.Name.Local != "scope" && a.Name.Local != "tabindex" && a.Name.Local != "class" {
					t.Fatalf("%q: attribute %s", text, a.Name.Local)
				}
			}
		}
	})
}
