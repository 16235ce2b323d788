package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/capture/line"
)

func newPortsCommand() *cobra.Command {
	return &cobra.Command{Use: "ports", Short: "List the serial ports that something is plugged into; none is opened", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ports, err := line.SystemPorts().List()
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), append([]line.FoundPort{}, ports...))
			}
			if len(ports) == 0 {
				fmt.Fprintln(cmd.OutOrStdout(), "no USB serial adapter is plugged in; is the cable a data cable?")
				return nil
			}
			rows := [][]string{{"PORT", "ADAPTER", "KNOWN BY", "IDENTITY"}}
			for _, p := range ports {
				known := "its identity"
				if p.Known == bench.KnownSocket {
					known = "its socket"
				}
				rows = append(rows, []string{p.Path, p.Adapter, known, p.Identity})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}
