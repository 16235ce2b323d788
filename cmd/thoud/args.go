package main

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// The command line: what it says about wrong arguments, and how a negative number gets through.

// usageError is a malformed command line: what is wrong, how the command is written, where to read more.
func usageError(cmd *cobra.Command, format string, args ...any) error {
	return &exitError{exitMalformed, fmt.Errorf("%s\nusage: %s\nhelp:  %s --help", fmt.Sprintf(format, args...), cmd.UseLine(), cmd.CommandPath())}
}

// nameArguments has every command name the argument that is missing or one too many, rather than count them.
func nameArguments(cmd *cobra.Command) {
	for _, c := range cmd.Commands() {
		nameArguments(c)
	}
	check := cmd.Args
	if check == nil || !cmd.Runnable() {
		return
	}
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		err := check(cmd, args)
		if err == nil {
			return nil
		}
		want := argumentNames(cmd.Use)
		needed := 0
		for _, w := range want {
			if !strings.HasPrefix(w, "[") {
				needed++
			}
		}
		switch {
		case len(args) < needed:
			return usageError(cmd, "%s is missing", strings.Trim(want[len(args)], "[]."))
		case len(want) == 0 && len(args) > 0:
			return usageError(cmd, "%q: %s takes no argument", args[0], cmd.Name())
		case len(args) > len(want):
			return usageError(cmd, "%q is one argument too many", args[len(want)])
		}
		return usageError(cmd, "%v", err)
	}
}

// groupMark says of a command that it only holds others.
const groupMark = "group"

// refuseUnknown has a command that only holds others say which of them is not there.
func refuseUnknown(cmd *cobra.Command) {
	for _, c := range cmd.Commands() {
		refuseUnknown(c)
	}
	if cmd.Runnable() || !cmd.HasSubCommands() {
		return
	}
	cmd.Annotations = map[string]string{groupMark: ""}
	cmd.Args, cmd.SuggestionsMinimumDistance = cobra.ArbitraryArgs, 2
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return cmd.Help()
		}
		meant := ""
		if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
			meant = "; meant is perhaps: " + strings.Join(near, ", ")
		}
		return usageError(cmd, "%q: %s has no such command%s", args[0], cmd.CommandPath(), meant)
	}
}

// argumentNames are the words of a command's usage after its name: STEP [POINT] are two, "[METHOD [FILE|-]]" too.
func argumentNames(use string) []string {
	words := strings.Fields(use)[1:]
	return words
}

// mark stands before a negative number while the flags are read: to them "-0.001" would be a flag.
const mark = "\x00"

var negative = regexp.MustCompile(`^-\.?[0-9]`)

// markNegatives marks the arguments that are negative numbers. What follows a flag that wants a value is its value.
func markNegatives(root *cobra.Command, args []string) []string {
	wants := map[string]bool{}
	valueFlags(root, wants)
	out := make([]string, len(args))
	for i, a := range args {
		if a == "--" {
			copy(out[i:], args[i:])
			break
		}
		if out[i] = a; negative.MatchString(a) && (i == 0 || !wants[args[i-1]]) {
			out[i] = mark + a
		}
	}
	return out
}

// valueFlags collects the flags of all commands that want a value, as they are written.
func valueFlags(cmd *cobra.Command, into map[string]bool) {
	add := func(f *pflag.Flag) {
		if f.NoOptDefVal == "" {
			into["--"+f.Name] = true
			if f.Shorthand != "" {
				into["-"+f.Shorthand] = true
			}
		}
	}
	cmd.Flags().VisitAll(add)
	cmd.PersistentFlags().VisitAll(add)
	for _, c := range cmd.Commands() {
		valueFlags(c, into)
	}
}

// unmarkNegatives takes the marks away again.
func unmarkNegatives(_ *cobra.Command, args []string) error {
	for i := range args {
		args[i] = strings.TrimPrefix(args[i], mark)
	}
	return nil
}
