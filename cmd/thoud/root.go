package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// newRootCommand is the whole command tree. A new command is one constructor and one row here.
func newRootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "thoud",
		Short:         "The measuring service of an engine-building bench",
		Long:          "thoud reads the gauges of an engine-building bench, says what to move and by how much, and keeps every raw reading.\n\n" + generalCaution,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.PersistentFlags().String("state", "", "state folder (default: $STATE_DIRECTORY, else the XDG state folder)")
	root.PersistentFlags().Bool("json", false, "answer in JSON")
	root.AddGroup(
		&cobra.Group{ID: "serve", Title: "The service:"},
		&cobra.Group{ID: "work", Title: "At the bench:"},
		&cobra.Group{ID: "look", Title: "To look things up:"},
		&cobra.Group{ID: "gauges", Title: "Gauges:"},
		&cobra.Group{ID: "keep", Title: "To keep the ledger:"},
	)
	in := func(group string, cmds ...*cobra.Command) {
		for _, c := range cmds {
			c.GroupID = group
			root.AddCommand(c)
		}
	}
	in("serve", newRunCommand(), newDemoCommand(), newCheckupCommand(), newCodeCommand())
	in("gauges", newPortsCommand(), newGaugeCommand(), newProfileCommand(), newIdentifyCommand(), newTeachCommand())
	in("work", newBuildCommand(), newGotoCommand(), newZeroCommand(), newTakeCommand(), newRetakeCommand(), newNextCommand(),
		newAgainCommand(), newVoidCommand(), newKeyCommand(), newBracketCommand(), newConfirmCommand(), newAnswerCommand(),
		newSignCommand(), newReopenCommand(), newOverrideCommand(), newTallyCommand(), newDroppedCommand(), newFoundCommand(),
		newAcknowledgeCommand(), newPhotoCommand())
	in("look", newStatusCommand(), newWatchCommand(), newPlanCommand(), newCalcCommand(), newReadingsCommand(), newSheetCommand())
	in("keep", newExportCommand(), newVerifyCommand(), newBackupCommand())
	return root
}

// generalCaution is shown before work begins.
const generalCaution = `thoud advises; the maker's data, local rules and a qualified person decide; a passed sheet is no proof of fitness.
Turn by hand only, plugs out; nothing of the gauges stays on an engine that is started.`

// wantJSON reports whether the answer shall be JSON.
func wantJSON(cmd *cobra.Command) bool {
	j, err := cmd.Flags().GetBool("json")
	return err == nil && j
}

// printJSON writes v as one indented JSON value.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// table prints rows in columns as wide as they need to be.
func table(w io.Writer, rows [][]string) {
	if len(rows) == 0 {
		return
	}
	width := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, c := range r {
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	for _, r := range rows {
		var line strings.Builder
		for i, c := range r {
			line.WriteString(c)
			if i < len(r)-1 {
				line.WriteString(strings.Repeat(" ", width[i]-len([]rune(c))+2))
			}
		}
		fmt.Fprintln(w, strings.TrimRight(line.String(), " "))
	}
}
