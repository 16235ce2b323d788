package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newWatchCommand() *cobra.Command {
	return &cobra.Command{Use: "watch", Short: "Follow what happens at the bench until interrupted", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := dial(cmd)
			if err != nil {
				return err
			}
			defer c.Close()
			w, asJSON := cmd.OutOrStdout(), wantJSON(cmd)
			print := func(kind string, v any, words string) {
				if asJSON {
					_ = writeJSON(w, map[string]any{kind: v}, false) // a closed pipe ends the command by its signal
					return
				}
				fmt.Fprintf(w, "%s %s\n", time.Now().Format(time.TimeOnly), words)
			}
			ctx, cancel := context.WithCancel(cmd.Context())
			defer cancel()
			return c.Follow(ctx, func(o bench.Outcome) {
				print("outcome", o, fmt.Sprintf("entry %d", o.N))
				for _, r := range o.Results {
					if !asJSON {
						printResult(w, "         ", r, "inch")
					}
				}
			}, func(v bench.Live) {
				if !asJSON && v.Value == nil && !v.Raw.Valid() {
					return
				}
				shown := v.Raw
				if v.Value != nil {
					shown = *v.Value
				}
				print("live", v, fmt.Sprintf("%s %s", v.Gauge, shown))
			}, func(n bench.Notice) {
				if n.Words != "" || asJSON {
					print("notice", n, n.Words)
				}
			})
		}}
}
