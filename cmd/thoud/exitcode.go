package main

import (
	"errors"
	"fmt"

	"thoud/pipeline/bus"
	"thoud/store"
)

// exitRow says what an exit status means.
type exitRow struct {
	Code  int
	Words string
}

// Exit statuses of every command.
const (
	exitDone      = 0
	exitNo        = 1
	exitMalformed = 2
	exitRefused   = 3
	exitNoService = 4
	exitNoLedger  = 5
)

// exitTable lists the exit statuses; the guide shows it.
func exitTable() []exitRow {
	return []exitRow{
		{exitDone, "done"},
		{exitNo, "not done: the bench refuses, a check found something wrong, or a fault; the words say which"},
		{exitMalformed, "the command line, or an input that it names, is malformed"},
		{exitRefused, "a method cannot give an answer from these inputs, and says why"},
		{exitNoService, "no service is running at the socket"},
		{exitNoLedger, "there is no ledger in the state folder"},
	}
}

// exitError is an error with the exit status it ends the command with.
type exitError struct {
	code int
	err  error
}

func (e *exitError) Error() string { return e.err.Error() }
func (e *exitError) Unwrap() error { return e.err }

// silentError ends a command with a status after it has said everything itself.
type silentError struct{ code int }

func (e *silentError) Error() string { return fmt.Sprintf("exit status %d", e.code) }

// exitCode is the exit status of an error.
func exitCode(err error) int {
	var quiet *silentError
	var known *exitError
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &quiet):
		return quiet.code
	case errors.As(err, &known):
		return known.code
	case errors.Is(err, bus.ErrNoService):
		return exitNoService
	case errors.Is(err, store.ErrNoLedger):
		return exitNoLedger
	}
	return exitNo
}
