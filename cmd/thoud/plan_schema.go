package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/plan"
)

// newPlanSchemaCommand gives "plan schema": what an editor needs to complete and check plan files.
func newPlanSchemaCommand() *cobra.Command {
	return &cobra.Command{Use: "schema", Short: "Print the JSON Schema of plan files, for an editor", Args: cobra.NoArgs,
		Long: "The schema is of draft 2020-12. An editor that knows it completes keys and marks those that no plan has. It knows less\n" +
			"than thoud plan check, which follows every reference.",
		RunE: func(cmd *cobra.Command, _ []string) error {
			b, err := plan.Schema()
			if err != nil {
				return err
			}
			_, err = rawOut(cmd).Write(b)
			return err
		}}
}
