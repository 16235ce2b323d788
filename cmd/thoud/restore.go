package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

func newRestoreCommand() *cobra.Command {
	var r service.Restore
	cmd := &cobra.Command{Use: "restore FILE", Short: "Put a backup into the state folder; what was there is set aside", Args: cobra.ExactArgs(1),
		Long: `Checks the backup from its first entry to its last, sets aside what is in the state folder (nothing is deleted), and puts
the backup there. Stop the service first. A state folder that has a stream wants a word: the stream may hold entries that
are newer than the backup. --keep-stream lets them follow the backup at the next start, which makes a ledger that was lost
alone whole again; --drop-stream goes back to the backup for good.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			if r.KeepStream && r.DropStream {
				return usageError(cmd, "--keep-stream and --drop-stream: want one of them")
			}
			step, end := progressBar(cmd.ErrOrStderr(), "checking")
			r.Dir, r.From, r.Now, r.Progress = dir, args[0], time.Now, step
			done, err := r.Run(cmd.Context())
			end()
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), done)
			}
			w := cmd.OutOrStdout()
			ends := "ends with seal " + fmt.Sprint(done.Seal)
			if done.Hub {
				ends = "a hub's: invite its benches anew where its keys are lost"
			}
			fmt.Fprintf(w, "bench %s: %d entries, whole; %s\n%s put into %s\n", done.Bench, done.Entries, ends, strings.Join(done.Put, ", "), dir)
			if done.Aside != "" {
				fmt.Fprintf(w, "what was there before is in %s\n", done.Aside)
			}
			fmt.Fprintln(w, "start the service now: "+startAgain(done.Hub))
			return nil
		}}
	cmd.Flags().BoolVar(&r.KeepStream, "keep-stream", false, "leave the stream: what it holds beyond the backup follows it")
	cmd.Flags().BoolVar(&r.DropStream, "drop-stream", false, "set the stream aside: the bench goes on from the backup")
	return cmd
}

// startAgain is how the service of a state folder is started.
func startAgain(hub bool) string {
	if hub {
		return "thoud hub"
	}
	return "thoud run, or sudo systemctl start thoud"
}
