// Command thoud is the measuring service of an engine-building bench and its commands. It only wires packages together.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(mainCode(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// mainCode runs a command, says on stderr what went wrong, and gives the exit status. Where --json was asked for the
// error is one line of JSON too.
func mainCode(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	err := run(ctx, args, stdin, stdout, stderr)
	code := exitCode(err)
	var quiet *silentError
	switch {
	case err == nil || errors.As(err, &quiet):
	case slices.Contains(args, "--json"):
		_ = json.NewEncoder(stderr).Encode(map[string]any{"error": cleanLines(err.Error()), "status": code}) // nobody left to tell
	default:
		fmt.Fprintln(stderr, "thoud:", cleanLines(err.Error()))
	}
	return code
}

func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error {
	root := newRootCommand()
	root.SetArgs(markNegatives(root, args))
	root.SetIn(stdin)
	root.SetOut(&cleanWriter{raw: stdout})
	root.SetErr(stderr)
	return root.ExecuteContext(ctx)
}
