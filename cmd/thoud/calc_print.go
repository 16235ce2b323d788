package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"thoud/calc"
	"thoud/calc/quantity"
)

// printCalculation writes a result as a table for people.
func printCalculation(w io.Writer, m calc.Method, res calc.Result, sys quantity.System) error {
	pick := func(s calc.Shown) string { return s.In(sys) }
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n\n", m.Title)
	for _, a := range res.Orders() {
		fmt.Fprintf(&b, "  %s\n", pick(a.Words))
	}
	if len(res.Adjustment) > 0 {
		b.WriteByte('\n')
	}
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, f := range res.Figures {
		fmt.Fprintf(tw, "  %s\t%s\t%s\t%s\n", strings.ReplaceAll(f.Name, "_", " "), pick(f.Shown), knownTo(f, sys), f.Verdict)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	for _, f := range res.Figures {
		if f.Reason != "" {
			fmt.Fprintf(&b, "\n%s: %s", strings.ReplaceAll(f.Name, "_", " "), f.ReasonIn(sys))
		}
	}
	for _, s := range res.Warnings {
		fmt.Fprintf(&b, "\nwarning: %s", calc.InUnits(s, sys))
	}
	if res.Verdict != calc.NoVerdict {
		fmt.Fprintf(&b, "\n\nverdict: %s", res.Verdict)
	}
	_, err := w.Write(append(bytes.TrimRight(trimLines(b.Bytes()), "\n"), '\n'))
	return err
}

// knownTo is the uncertainty of a figure, with what it goes by where readings showed their own scatter.
func knownTo(f calc.FigureResult, sys quantity.System) string {
	s := f.ShownU.In(sys)
	if s != "" && f.From != "" {
		s += " (" + f.From + ")"
	}
	return s
}

// trimLines takes the blanks off the ends of lines that a table with empty cells leaves.
func trimLines(b []byte) []byte {
	lines := bytes.Split(b, []byte("\n"))
	for i := range lines {
		lines[i] = bytes.TrimRight(lines[i], " ")
	}
	return bytes.Join(lines, []byte("\n"))
}

// methodHelp shows a method's inputs, figures, formula, source and cautions.
func methodHelp(w io.Writer, m calc.Method) {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s: %s (version %d)\n\nUsage: thoud calc %s [FILE|-] [--units mm|inch] [--json] [--plot FILE.svg|png]\n\nInputs\n", m.Name, m.Title, m.Version, m.Name)
	helpInputs(&b, m.Inputs, "  ")
	b.WriteString("  limits, optional: {\"figure\": {\"lower\": …, \"upper\": …}} for a verdict\n\nFigures\n")
	for _, f := range m.Figures {
		fmt.Fprintf(&b, "  %s (%s)\n      %s\n", f.Name, figureKind(f), f.Doc)
	}
	fmt.Fprintf(&b, "\nFormula\n  %s\n\nSource\n  %s\n\nCautions\n", m.Formula, m.Source)
	for _, c := range m.Cautions {
		fmt.Fprintf(&b, "  - %s\n", c)
	}
	b.WriteString("\nthoud advises; the maker's data, local rules and a qualified person decide.\n")
	_, _ = w.Write(b.Bytes()) // help has nobody to tell of a closed pipe
}

func helpInputs(b *bytes.Buffer, inputs []calc.Input, indent string) {
	for _, in := range inputs {
		optional := ""
		if in.Optional {
			optional = ", optional"
		}
		name := in.Name
		if name == calc.AnyName {
			name = "(any name)"
		}
		fmt.Fprintf(b, "%s%s%s: %s\n%s    %s\n", indent, name, optional, in.Wanted(), indent, in.Doc)
		helpInputs(b, in.Fields, indent+"    ")
	}
}

func figureKind(f calc.Figure) string {
	kind := string(f.Kind)
	switch {
	case f.Flag:
		kind = "yes or no"
	case f.Text:
		kind = "words"
	case f.Kind == calc.AnyKind:
		kind = "as the inputs"
	case f.Kind == quantity.Number:
		kind = "number"
	}
	if f.List {
		kind = "list of " + kind
	}
	if f.Grid {
		kind = "table of " + kind
	}
	return kind
}
