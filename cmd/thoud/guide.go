package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/guide"
)

func newGuideCommand() *cobra.Command {
	return &cobra.Command{Use: "guide [TOPIC]", Short: "Read the guide; without TOPIC list what there is", Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				text, err := guide.Text(args[0])
				if err != nil {
					return err
				}
				if wantJSON(cmd) {
					return printJSON(cmd.OutOrStdout(), map[string]string{"topic": args[0], "text": text})
				}
				_, err = fmt.Fprint(cmd.OutOrStdout(), text)
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), guide.Topics())
			}
			rows := [][]string{{"TOPIC", "WHAT IT IS ABOUT"}}
			for _, t := range guide.Topics() {
				rows = append(rows, []string{t.Name, t.Title})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}
