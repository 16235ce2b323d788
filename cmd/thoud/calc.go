package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/form"
	"thoud/calc/quantity"
)

// calcOptions are the flags all methods share.
type calcOptions struct {
	units string
	json  bool
	plot  string
}

func (o *calcOptions) system() (quantity.System, error) {
	switch o.units {
	case "mm", "metric":
		return quantity.Metric, nil
	case "inch", "in":
		return quantity.Inch, nil
	}
	return "", &exitError{exitMalformed, fmt.Errorf("--units: got %q, want mm or inch", o.units)}
}

// newCalcCommand makes "thoud calc": the list of methods, and one command a method.
func newCalcCommand() *cobra.Command {
	opts := &calcOptions{}
	cmd := &cobra.Command{
		Use:   "calc [METHOD [FILE|-]]",
		Short: "Compute with one of the methods",
		Long: "Without a method: the list of methods. With one: read its inputs as a JSON object from FILE or standard input, write figures,\n" +
			"adjustment and verdict. Exit status 2: an input is malformed. Exit status 3: the method refuses, and says why. With --json,\n" +
			"or where nobody reads the output, both come as JSON too: field, reason, remedy, words.",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			switch {
			case len(args) > 0:
				return malformed(out, opts, "", &calc.InputError{Field: "method", Value: fmt.Sprintf("%q", args[0]), Want: "one of the methods that \"thoud calc\" lists"})
			case opts.json:
				return printJSON(out, methodLines())
			}
			return listMethods(out)
		},
	}
	cmd.PersistentFlags().StringVar(&opts.units, "units", "mm", "units of the answer: mm or inch")
	cmd.PersistentFlags().BoolVar(&opts.json, "json", false, "answer in JSON on a terminal too")
	cmd.PersistentFlags().StringVar(&opts.plot, "plot", "", "draw the result into `FILE`.svg or .png, where a picture helps")
	cmd.SetFlagErrorFunc(func(c *cobra.Command, err error) error { return malformed(c.OutOrStdout(), opts, "", err) })
	for _, m := range calc.Methods() {
		cmd.AddCommand(newMethodCommand(m, opts))
	}
	return cmd
}

func newMethodCommand(m calc.Method, opts *calcOptions) *cobra.Command {
	cmd := &cobra.Command{
		Use:           m.Name + " [FILE|-]",
		Short:         m.Title,
		Hidden:        true, // the list has them already
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return malformed(cmd.OutOrStdout(), opts, m.Name, fmt.Errorf("got %d files, want one or none", len(args)))
			}
			err := runMethod(cmd, m, opts, args)
			var e *exitError
			if errors.As(err, &e) && e.code == exitMalformed {
				return malformed(cmd.OutOrStdout(), opts, m.Name, e.err)
			}
			return err
		},
	}
	cmd.SetHelpFunc(func(cmd *cobra.Command, _ []string) { methodHelp(cmd.OutOrStdout(), m) })
	return cmd
}

// methodLine is a method in a list.
type methodLine struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Version int    `json:"version"`
	Source  string `json:"source"`
}

func methodLines() []methodLine {
	var out []methodLine
	for _, m := range calc.Methods() {
		out = append(out, methodLine{m.Name, m.Title, m.Version, m.Source})
	}
	return out
}

func listMethods(w io.Writer) error {
	var b bytes.Buffer
	for _, m := range calc.Methods() {
		fmt.Fprintf(&b, "%-20s %s\n", m.Name, m.Title)
	}
	b.WriteString("\nthoud calc METHOD --help shows a method's inputs, figures, formula, source and cautions.\n")
	_, err := w.Write(b.Bytes())
	return err
}

func runMethod(cmd *cobra.Command, m calc.Method, opts *calcOptions, args []string) error {
	sys, err := opts.system()
	if err != nil {
		return err
	}
	if err := checkPlotName(opts.plot); err != nil {
		return err
	}
	asked, err := readForm(cmd.InOrStdin(), args)
	if err != nil {
		return err
	}
	req, err := form.Read(m, asked)
	if err != nil {
		return &exitError{exitMalformed, err}
	}
	res, err := calc.Run(req)
	if err != nil {
		return &exitError{exitMalformed, err}
	}
	out := cmd.OutOrStdout()
	human := forPeople(out, opts)
	if res.Refused != "" {
		if !human {
			if _, err := out.Write(form.Write(res, sys)); err != nil {
				return err
			}
		}
		return &exitError{exitRefused, fmt.Errorf("%s refuses: %s", m.Name, calc.InUnits(res.Refused, sys))}
	}
	if opts.plot != "" {
		if err := plotResult(opts.plot, res, req, sys); err != nil {
			return err
		}
	}
	if human {
		return printCalculation(out, m, res, sys)
	}
	_, err = out.Write(form.Write(res, sys))
	return err
}

// forPeople reports whether a person reads the output, who is told on the standard error.
func forPeople(out io.Writer, opts *calcOptions) bool { return isTerminal(out) && !opts.json }

// malformed ends with exit status 2; a program gets the fault in its parts.
func malformed(out io.Writer, opts *calcOptions, method string, err error) error {
	if !forPeople(out, opts) {
		if _, werr := out.Write(form.Malformed(method, err)); werr != nil {
			return werr
		}
	}
	if method != "" {
		err = fmt.Errorf("%s: %w", method, err)
	}
	return &exitError{exitMalformed, err}
}

const largestForm = 16 << 20

func readForm(stdin io.Reader, args []string) ([]byte, error) {
	r := stdin
	name := "standard input"
	if len(args) == 1 && args[0] != "-" {
		f, err := os.Open(args[0])
		if err != nil {
			return nil, &exitError{exitMalformed, err}
		}
		defer f.Close()
		r, name = f, args[0]
	}
	b, err := io.ReadAll(io.LimitReader(r, largestForm+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	if len(b) > largestForm {
		return nil, &exitError{exitMalformed, fmt.Errorf("%s: over %d MiB, want one JSON object", name, largestForm>>20)}
	}
	return b, nil
}

func checkPlotName(name string) error {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".svg", ".png":
		return nil
	}
	if name == "" {
		return nil
	}
	return &exitError{exitMalformed, fmt.Errorf("--plot: got %q, want a name that ends in .svg or .png", name)}
}

// plotResult draws into a file; a method without a picture is said to have none.
func plotResult(name string, res calc.Result, req calc.Request, sys quantity.System) error {
	var b []byte
	var ok bool
	var err error
	if strings.EqualFold(filepath.Ext(name), ".png") {
		b, ok, err = chart.PNG(res, req, sys)
	} else {
		var svg string
		svg, ok = chart.DrawIn(res, req, sys)
		b = []byte(chart.Standalone(svg))
	}
	if err != nil {
		return fmt.Errorf("plot %s: %w", name, err)
	}
	if !ok {
		return &exitError{exitMalformed, fmt.Errorf("--plot: %s has no picture for these inputs", res.Method)}
	}
	if err := writeFile(name, func(w io.Writer) error { _, err := w.Write(b); return err }); err != nil {
		return fmt.Errorf("plot: %w", err)
	}
	return nil
}
