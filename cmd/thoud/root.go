package main

import (
	"runtime"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

// newRootCommand is the whole command tree. A new command is one constructor and one row here.
func newRootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "thoud",
		Short:         "The measuring service of an engine-building bench",
		Long:          "thoud reads the gauges of an engine-building bench, says what to move and by how much, and keeps every raw reading.\n\n" + generalCaution,
		Version:       service.Version(),
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.PersistentFlags().String("state", "", "state folder (default: $STATE_DIRECTORY, else the installed service's where there is one and none of your own, else the XDG state folder)")
	root.PersistentFlags().String("bench", "", "at a hub: the bench whose ledger is meant")
	root.PersistentFlags().Bool("json", false, "answer in JSON, errors too")
	root.PersistentPreRunE = func(cmd *cobra.Command, args []string) error {
		if err := benchElsewhere(cmd, runtime.GOOS); err != nil {
			return err
		}
		return unmarkNegatives(cmd, args)
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return usageError(cmd, "%v", err) })
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
	in("serve", newRunCommand(), newTryCommand(), newDemoCommand(), newCheckupCommand(), newCodeCommand(),
		newHubCommand(), newJoinCommand(), newLeaveCommand())
	in("gauges", newPortsCommand(), newGaugeCommand(), newProfileCommand(), newIdentifyCommand(), newTeachCommand())
	in("work", newBuildCommand(), newBenchCommand(), newEngineCommand(), newGotoCommand(), newZeroCommand(), newTakeCommand(), newRetakeCommand(), newNextCommand(),
		newAgainCommand(), newVoidCommand(), newKeyCommand(), newBracketCommand(), newConfirmCommand(), newAnswerCommand(),
		newSignCommand(), newReopenCommand(), newOverrideCommand(), newTallyCommand(), newDroppedCommand(), newFoundCommand(),
		newAcknowledgeCommand(), newPhotoCommand(), newHoursCommand(), newPartCommand(), newRegularCommand())
	in("look", newStatusCommand(), newDueCommand(), newHandsCommand(), newWatchCommand(), newPlanCommand(), newCalcCommand(), newReadingsCommand(), newWhatIfCommand(), newSheetCommand(),
		newGuideCommand(), newSchemaCommand())
	in("keep", newExportCommand(), newVerifyCommand(), newNoteCommand(), newRebuildCommand(), newQuarantineCommand(), newBackupCommand(), newRestoreCommand())
	if err := addCompletions(root); err != nil {
		panic(err) // a row of the table names a command or a flag that is not there
	}
	nameArguments(root)
	refuseUnknown(root)
	addExamples(root)
	return root
}

// generalCaution is shown before work begins.
const generalCaution = `thoud advises; the maker's data, local rules and a qualified person decide; a passed sheet is no proof of fitness.
Turn by hand only, plugs out; nothing of the gauges stays on an engine that is started.`
