package devices_test

import (
	"strings"
	"testing"

	"thoud/devices"
)

// TestPatterns reads lines by small profiles of their own. A step "~" is a silence, "^" the port opened again.
func TestPatterns(t *testing.T) {
	const crlf = "end = \"\\r\\n\"\nunit = \"mm\"\n"
	for _, c := range []struct {
		name, text string
		feed       []string
		want       []string // "reads …", or a part of a refusal
	}{
		{"number with its own sign", `pattern = "{number}"` + "\n" + crlf,
			[]string{"~", "1.5\r\n-1.5\r\n+.5\r\n"},
			[]string{"reads 1.5 mm", "reads -1.5 mm", "reads 0.5 mm"}},
		{"the first line may lack its beginning", `pattern = "{number}"` + "\n" + crlf,
			[]string{"2.5\r\n12.5\r\n", "^", "3.5\r\n", "^", "~", "4.5\r\n"},
			[]string{"the first line after opening may have lost its beginning", "reads 12.5 mm",
				"the first line after opening may have lost its beginning", "reads 4.5 mm"}},
		{"lines of one length show a lost beginning", `pattern = "{number:06}"` + "\n" + crlf,
			[]string{"2.500\r\n12.500\r\n"},
			[]string{`"2.500" ends too early`, "reads 12.500 mm"}},
		{"width with blanks", `pattern = "X{number:8}"` + "\n" + crlf,
			[]string{"X   -1.25\r\n", "X1.25\r\n", "X 1 .250 \r\n"},
			[]string{"reads -1.25 mm", "ends too early", `"1 .250" is not a decimal number`}},
		{"filled width has no blanks", `pattern = "X{number:05}"` + "\n" + crlf,
			[]string{"X01.25\r\n", "X 1.25\r\n"},
			[]string{"reads 1.25 mm", "is not a decimal number"}},
		{"sign that may be missing", `pattern = "N{sign?}{number}"` + "\n" + crlf,
			[]string{"N1.25\r\nN 1.25\r\nN-1.25\r\nN+1.25\r\nN--1.25\r\n"},
			[]string{"reads 1.25 mm", "reads 1.25 mm", "reads -1.25 mm", "reads 1.25 mm", `"-1.25" is not a decimal number`}},
		{"sign behind the number", `pattern = "={number}{sign}"` + "\n" + crlf,
			[]string{"=1.25-\r\n=1.25+\r\n=1.25\r\n"},
			[]string{"reads -1.25 mm", "reads 1.25 mm", "has no sign"}},
		{"unit that may be missing", `pattern = "={number}{unit?}"` + "\nunits = { i = \"in\" }\n" + crlf,
			[]string{"=1.25i\r\n=1.25\r\n=1.25x\r\n"},
			[]string{"reads 1.25 in", "reads 1.25 mm", `"x" is left over at the end`}},
		{"unit before the number", `pattern = "[{unit}] {number}"` + "\nunits = { M = \"mm\", I = \"in\" }\nend = \"\\n\"\n",
			[]string{"[M] 1.25\n[I]1.25\n"},
			[]string{"reads 1.25 mm", "reads 1.25 in"}},
		{"braces", `pattern = "{{{number}}}"` + "\n" + crlf, []string{"{1.25}\r\n"}, []string{"reads 1.25 mm"}},
		{"characters that say nothing", `pattern = "@{skip:3}{number}"` + "\n" + crlf,
			[]string{"~", "@a7c1.25\r\n", "@a7\r\n"}, []string{"reads 1.25 mm", "ends too early"}},
		{"two states", `pattern = "{status}{status} {number}"` + "\nstatus = { S = \"stable\", M = \"unstable\", B = \"low-battery\", \"-\" = \"\" }\n" + crlf,
			[]string{"~", "SB 1.25\r\nM- 1.25\r\n"},
			[]string{"reads 1.25 mm status=stable+low-battery", "reads 1.25 mm status=unstable"}},
		{"a value beside an overload does not count", `pattern = "{status} {number}"` + "\nstatus = { O = \"overload\", S = \"stable\" }\n" + crlf,
			[]string{"~", "O 9.99\r\nS 9.99\r\n"}, []string{"reads none status=overload", "reads 9.99 mm status=stable"}},
		{"channels of one line by their order", `pattern = "{number}"` + "\nseparator = \",\"\nchannels = [\"a\", \"b\"]\n" + crlf,
			[]string{"~", "1.25,-2.5\r\n1.25\r\n1,2,3\r\n"},
			[]string{"reads 1.25 mm channel=a", "reads -2.5 mm channel=b", "1 readings on the line, want 2", "more than 2 readings"}},
		{"channels apart by blanks", `pattern = "{number}"` + "\nseparator = \" \"\nchannels = [\"a\", \"b\"]\n" + crlf,
			[]string{"~", "  1.25   -2.5\r\n"}, []string{"reads 1.25 mm channel=a", "reads -2.5 mm channel=b"}},
		{"channels that the line names", `pattern = "<{channel}> {number}"` + "\n" + crlf,
			[]string{"<left> 1.25\r\n<> 1\r\n"}, []string{"reads 1.25 mm channel=left", "is not a channel"}},
		{"scale and sense", `pattern = "={number}"` + "\nscale = \"-0.5\"\n" + crlf,
			[]string{"=3\r\n=-5\r\n"}, []string{"reads -1.5 mm", "reads 2.5 mm"}},
		{"decimal comma", `pattern = "={number}"` + "\nmark = \",\"\n" + crlf,
			[]string{"=1,25\r\n=1.25\r\n=1,2,5\r\n"}, []string{"reads 1.25 mm", "is not a decimal number", "is not a decimal number"}},
		{"lines that are no readings", `pattern = "={number}"` + "\nignore = [\"READY\", \"R?\"]\n" + crlf,
			[]string{"READY\r\nR?\r\n=1.25\r\nREADY.\r\n"}, []string{"reads 1.25 mm", "READY"}},
		{"lines apart by silence", `pattern = "={number}"` + "\ngap = true\nunit = \"mm\"\n",
			[]string{"=1.2", "5", "~", "=1.25=2.5", "~"}, []string{"reads 1.25 mm", `"1.25=2.5" is not a decimal number`}},
		{"no end of line", `pattern = "={number}"` + "\n" + crlf,
			[]string{strings.Repeat("9", 700), "\r\n=1.25\r\n"}, []string{"no end of line in 256 bytes", "reads 1.25 mm"}},
		{"terminator split and doubled", `pattern = "={number}"` + "\n" + crlf,
			[]string{"=1.25\r", "\n\r\n", "=1.5\n=2.5\r\n"}, []string{"reads 1.25 mm", `"1.5\n=2.5" is not a decimal number`}},
		{"too many figures", `pattern = "={number}"` + "\n" + crlf,
			[]string{"=99999999999999999999\r\n=9999999999999999.9\r\n=1.0000000000001\r\n"},
			[]string{"has too many digits", "out of range", "has too many decimal places"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := devices.ParseProfile("x.toml", []byte("name = \"x\"\ntitle = \"x\"\nfamily = \"text\"\n[text]\n"+c.text))
			if err != nil {
				t.Fatal(err)
			}
			d := mustDecoder(t, p)
			var got []string
			emit := func(s devices.Sample, err error) {
				if err != nil {
					got = append(got, err.Error())
					return
				}
				got = append(got, said(s))
			}
			for _, f := range c.feed {
				switch f {
				case "~":
					d.Idle(emit)
				case "^":
					d.Reset()
				default:
					d.Feed([]byte(f), emit)
				}
			}
			if len(got) != len(c.want) {
				t.Fatalf("got %d\n%s\nwant %d\n%s", len(got), strings.Join(got, "\n"), len(c.want), strings.Join(c.want, "\n"))
			}
			for i, w := range c.want {
				if strings.HasPrefix(w, "reads ") && got[i] != w || !strings.Contains(got[i], w) {
					t.Errorf("%d: got %s, want %s", i+1, got[i], w)
				}
			}
		})
	}
}

// Patterns that a profile must not have, with what is said of them.
func TestFaultsOfAPattern(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{`pattern = "{number"`, "a { without its }"},
		{`pattern = "number}"`, "a } without its {"},
		{`pattern = "{number}{number}"`, "{number} stands twice"},
		{"pattern = \"{channel} {number}\"\nchannel = { \"\" = \"a\" }", "text.channel: an empty word"},
		{`pattern = "{sign}"`, "it needs {number} or {status}"},
		{`pattern = "{number?}"`, "give a second pattern"},
		{`pattern = "{skip}{number}"`, "{skip} wants a width"},
		{`pattern = "{number:0}"`, "want a width of 1 to 64"},
		{`pattern = "{channel}{number}"`, "{channel} runs into the next part"},
		{`pattern = "{number} {unit}"`, "text.units: missing"},
		{`pattern = "{status} {number}"`, "text.status: missing"},
		{"pattern = \"{number}\\r\"", "terminators go into end"},
		{"pattern = [\"{number}\", 3]", "3 is no text"},
		{"pattern = \"{number}\"\nchannels = [\"a\", \"b\"]", "text.separator: missing: 2 channels"},
		{"pattern = \"{number},\"\nseparator = \",\"\nchannels = [\"a\"]", `text.separator: "," stands in the pattern`},
		{"pattern = \"{number}\"\nplaces = 13", "text.places: 13"},
		{"pattern = \"{number}\"\nmark = \";\"", "text.mark"},
		{"pattern = \"{number}\"\ngap = true", "want one of end, length and gap"},
	} {
		_, err := devices.ParseProfile("x.toml", []byte("name = \"x\"\ntitle = \"x\"\nfamily = \"text\"\n[text]\nend = \"\\r\"\nunit = \"mm\"\n"+c.text+"\n"))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.text, err, c.want)
		}
	}
}
