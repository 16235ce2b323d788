package main

import (
	"github.com/spf13/cobra"

	"thoud/pipeline/bus"
)

// schemaLine is a message in a list.
type schemaLine struct {
	Name    string `json:"name"`
	Subject string `json:"subject"`
	Words   string `json:"words"`
}

func newSchemaCommand() *cobra.Command {
	return &cobra.Command{Use: "schema [MESSAGE]", Short: "Print the JSON Schema of a message on the bus; without MESSAGE list them", Args: cobra.MaximumNArgs(1),
		Long: "The schemas are drafts 2020-12. thoud guide messages says who may publish and hear what.",
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				b, err := bus.Schema(args[0])
				if err != nil {
					return err
				}
				_, err = rawOut(cmd).Write(b)
				return err
			}
			var lines []schemaLine
			rows := [][]string{{"MESSAGE", "SUBJECT", "WHAT IT IS"}}
			for _, m := range bus.Messages() {
				lines = append(lines, schemaLine{m.Name, m.Subject, m.Words})
				rows = append(rows, []string{m.Name, m.Subject, m.Words})
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), lines)
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}
