package devices

import (
	"fmt"
	"strconv"
	"strings"
)

// view is one way to look at the lines: each is one reading, or one of several readings on a line, or the reading of one
// of several channels that the lines name.
type view struct {
	lines   []taughtLine
	channel string          // the channel that the display was of, "" where there is one only
	text    func(Text) Text // puts what the view knows into the profile
	head    string          // what of the pattern stands before these lines
	cut     int             // how many characters of the line head stands for; 0 where that differs
	notes   []string
}

// views gives the ways to look at some lines, the richest first: a second channel must not be taken for text that never
// changes.
func views(lines []taughtLine, presses int) []view {
	list := namedChannels(lines, presses)
	for _, sep := range []string{",", ";", "/", "\t", " "} {
		list = append(list, severalReadings(lines, sep)...)
	}
	return append(list, view{lines: lines, text: func(t Text) Text { return t }})
}

// namedChannels are lines that begin with the name of a channel: in every press at least two names came.
func namedChannels(lines []taughtLine, presses int) []view {
	var names []string
	came := map[string]map[int]bool{}
	prefix, _ := leadingName(lines[0].text)
	cut := 0
	for _, l := range lines {
		p, name := leadingName(l.text)
		if name == "" || p != prefix {
			return nil
		}
		if came[name] == nil {
			came[name] = map[int]bool{}
			names = append(names, name)
		}
		came[name][l.press] = true
		cut = len(prefix) + len(name)
	}
	words := map[string]string{}
	for _, name := range names {
		if len(came[name]) < presses {
			return nil
		}
		words[name] = strings.ToLower(name)
		if len(name) != len(names[0]) {
			cut = 0
		}
	}
	if len(words) < 2 {
		return nil
	}
	var list []view
	for _, name := range names {
		v := view{channel: words[name], head: escape(prefix) + "{channel}", cut: cut,
			text:  func(t Text) Text { t.Channel = words; return t },
			notes: []string{fmt.Sprintf("the lines name the channels %s; the display was that of %s: register a gauge for each with --channel", strings.Join(names, ", "), words[name])}}
		for _, l := range lines {
			if p, n := leadingName(l.text); n == name {
				v.lines = append(v.lines, taughtLine{l.press, l.text[len(p)+len(n):]})
			}
		}
		list = append(list, v)
	}
	return list
}

// leadingName finds a word of letters and figures at the beginning of a line, behind marks at most: "A: 1.234" or
// "<2> 1.234". Figures alone are a name only where a mark follows that stands in no number.
func leadingName(line string) (prefix, name string) {
	alnum := func(c byte) bool { return isChannel(c) && c != '-' && c != '_' }
	i := 0
	for i < len(line) && !alnum(line[i]) {
		if line[i] == '+' || line[i] == '-' || line[i] == '.' {
			return "", ""
		}
		i++
	}
	j := i
	for j < len(line) && alnum(line[j]) {
		j++
	}
	name = line[i:j]
	if name == "" || j == len(line) {
		return "", ""
	}
	if figures := strings.Trim(name, "0123456789") == ""; figures && !strings.ContainsRune(":=>)]", rune(line[j])) {
		return "", ""
	}
	return line[:i], name
}

// severalReadings are lines with several readings of one shape, a separator between them: each may be the one that the
// display showed.
func severalReadings(lines []taughtLine, sep string) []view {
	var all [][]string
	for _, l := range lines {
		pieces := strings.Split(l.text, sep)
		if sep == " " {
			pieces = strings.Fields(l.text)
		}
		if len(pieces) < 2 || len(all) > 0 && len(pieces) != len(all[0]) {
			return nil
		}
		for _, p := range pieces {
			if shape(p) != shape(pieces[0]) || !strings.Contains(shape(p), "0") {
				return nil
			}
		}
		all = append(all, pieces)
	}
	var names []string
	for i := range all[0] {
		names = append(names, strconv.Itoa(i+1))
	}
	var list []view
	for k, name := range names {
		v := view{channel: name, text: func(t Text) Text { t.Separator, t.Channels = sep, names; return t },
			notes: []string{fmt.Sprintf("a line brings %d readings, taken for the channels %s; the display was that of %s: register a gauge for each with --channel", len(names), strings.Join(names, ", "), name)}}
		for i, l := range lines {
			v.lines = append(v.lines, taughtLine{l.press, all[i][k]})
		}
		list = append(list, v)
	}
	return list
}

// shape is a reading without its figures, its sign and its blanks: "0.0mm" for "- 12.345 mm".
func shape(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			if n := b.Len(); n == 0 || b.String()[n-1] != '0' {
				b.WriteByte('0')
			}
		case c == '+' || c == '-' || c == ' ':
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}
