package view

import (
	"strings"

	"thoud/calc/markup"
)

// Prose writes a text of the guide as HTML. The guide keeps to a few marks of Markdown: headings, paragraphs, lists, tables,
// lines of commands that stand four spaces in, words between back quotes. Everything else is written as it stands; nothing
// of the text is ever taken for HTML.
func Prose(text string) markup.HTML {
	p := prose{lines: strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")}
	for len(p.lines) > 0 {
		p.block()
	}
	return markup.HTML(p.out.String()) // every piece of text in it went through inline, which escapes
}

type prose struct {
	lines []string
	out   strings.Builder
}

// isBlank, isCode, isRow and isPoint tell the kinds of lines apart.
func isBlank(s string) bool { return strings.TrimSpace(s) == "" }
func isCode(s string) bool  { return strings.HasPrefix(s, "    ") && !isBlank(s) }
func isRow(s string) bool   { return strings.HasPrefix(s, "|") }
func isPoint(s string) bool { return strings.HasPrefix(s, "- ") }
func isHead(s string) bool  { return strings.HasPrefix(s, "#") }

// block writes what begins at the next line.
func (p *prose) block() {
	switch line := p.lines[0]; {
	case isBlank(line):
		p.lines = p.lines[1:]
	case isHead(line):
		words := strings.TrimLeft(line, "#")
		tag := "h" + string(rune('0'+min(len(line)-len(words), 4)))
		p.put(tag, inline(strings.TrimSpace(words)))
		p.lines = p.lines[1:]
	case isCode(line):
		var code []string
		for _, l := range p.take(func(s string) bool { return isCode(s) || isBlank(s) }) {
			code = append(code, strings.TrimPrefix(l, "    "))
		}
		p.out.WriteString(`<pre tabindex="0">` + markup.Escape(strings.TrimRight(strings.Join(code, "\n"), "\n")) + "</pre>\n")
	case isRow(line):
		p.table(p.take(isRow))
	case isPoint(line):
		p.list()
	default:
		plain := p.take(func(s string) bool { return !isBlank(s) && !isHead(s) && !isRow(s) && !isPoint(s) })
		p.put("p", inline(strings.Join(plain, " ")))
	}
}

// take takes the lines that belong together; the first one always does.
func (p *prose) take(belongs func(string) bool) []string {
	n := 1
	for n < len(p.lines) && belongs(p.lines[n]) {
		n++
	}
	got := p.lines[:n]
	p.lines = p.lines[n:]
	return got
}

func (p *prose) put(tag, html string) {
	p.out.WriteString("<" + tag + ">" + html + "</" + tag + ">\n")
}

// list writes points; a point goes on in lines that stand two spaces in.
func (p *prose) list() {
	p.out.WriteString("<ul>\n")
	for len(p.lines) > 0 && isPoint(p.lines[0]) {
		point := p.take(func(s string) bool { return strings.HasPrefix(s, "  ") && !isBlank(s) })
		for i := range point {
			point[i] = strings.TrimSpace(point[i])
		}
		p.put("li", inline(strings.TrimPrefix(strings.Join(point, " "), "- ")))
	}
	p.out.WriteString("</ul>\n")
}

// table writes rows; the first one heads them where a line of dashes follows.
func (p *prose) table(rows []string) {
	p.out.WriteString("<div class=\"scroll\" tabindex=\"0\">\n<table>\n")
	headed := len(rows) > 1 && strings.Trim(rows[1], "|-: ") == ""
	for i, row := range rows {
		if headed && i == 1 {
			continue
		}
		p.out.WriteString("<tr>")
		for j, cell := range cells(row) {
			switch {
			case headed && i == 0:
				p.out.WriteString(`<th scope="col">` + inline(cell) + "</th>")
			case j == 0:
				p.out.WriteString(`<th scope="row">` + inline(cell) + "</th>")
			default:
				p.out.WriteString("<td>" + inline(cell) + "</td>")
			}
		}
		p.out.WriteString("</tr>\n")
	}
	p.out.WriteString("</table>\n</div>\n")
}

// cells parts a row at its bars, not at those between back quotes.
func cells(row string) []string {
	var out []string
	var cell strings.Builder
	quoted := false
	for _, r := range strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(row), "|"), "|") {
		switch {
		case r == '|' && !quoted:
			out = append(out, strings.TrimSpace(cell.String()))
			cell.Reset()
			continue
		case r == '`':
			quoted = !quoted
		}
		cell.WriteRune(r)
	}
	return append(out, strings.TrimSpace(cell.String()))
}

// inline writes words: those between back quotes as they are typed, those between stars heavy or slanted.
func inline(s string) string {
	var b strings.Builder
	for i, part := range strings.Split(s, "`") {
		switch {
		case i%2 == 1 && strings.Count(s, "`") >= i+1:
			b.WriteString("<code>" + markup.Escape(part) + "</code>")
		case i%2 == 1:
			b.WriteString(markup.Escape("`" + part))
		default:
			b.WriteString(heavy(markup.Escape(part)))
		}
	}
	return b.String()
}

// heavy writes what stands between two stars heavy and between one slanted, in text that is escaped already.
func heavy(s string) string {
	return between(between(s, "**", "strong"), "*", "em")
}

func between(s, mark, tag string) string {
	for {
		before, rest, ok := strings.Cut(s, mark)
		inner, after, closed := strings.Cut(rest, mark)
		if !ok || !closed || inner == "" || inner[0] == ' ' || strings.Contains(inner, "<") {
			return s
		}
		s = before + "<" + tag + ">" + inner + "</" + tag + ">" + after
	}
}
