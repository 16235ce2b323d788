// Command thoud is the measuring service of an engine-building bench and its commands. It only wires packages together.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(mainCode(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// exitCoder is an error that knows its exit status.
type exitCoder interface{ ExitCode() int }

func mainCode(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	err := run(ctx, args, stdin, stdout, stderr)
	if err == nil {
		return 0
	}
	var quiet *silentError
	if !errors.As(err, &quiet) {
		fmt.Fprintln(stderr, "thoud:", cleanLines(err.Error()))
	}
	var c exitCoder
	if errors.As(err, &c) {
		return c.ExitCode()
	}
	return 1
}

// silentError ends a command with a status after it has said everything itself.
type silentError struct{ code int }

func (e *silentError) Error() string { return fmt.Sprintf("exit status %d", e.code) }
func (e *silentError) ExitCode() int { return e.code }

func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error {
	root := newRootCommand()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(&cleanWriter{raw: stdout})
	root.SetErr(stderr)
	return root.ExecuteContext(ctx)
}
