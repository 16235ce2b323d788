package main

import (
	"fmt"
	"net"
	"os"
	"runtime/debug"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

func newRunCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run",
		Short: "Run the service: gauges, ledger and shop monitor",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, _, err := ownStateDir(cmd)
			if err != nil {
				return err
			}
			cfg, err := service.ReadSettings(dir)
			if err != nil {
				return err
			}
			listen := cfg.Monitor.Listen
			if cmd.Flags().Changed("listen") {
				if listen, err = cmd.Flags().GetString("listen"); err != nil {
					return err
				}
			}
			log, err := newLogger(cmd)
			if err != nil {
				return err
			}
			s := &service.Service{Dir: dir, Settings: cfg, Log: log, Listen: listen, Ready: func(a net.Addr) {
				settleMemory()
				if a != nil {
					fmt.Fprintf(cmd.OutOrStdout(), "thoud: bench %q, state in %s, monitor at http://%s\n", cfg.Bench, dir, a)
				} else {
					fmt.Fprintf(cmd.OutOrStdout(), "thoud: bench %q, state in %s, no monitor\n", cfg.Bench, dir)
				}
				if _, err := daemon.SdNotify(false, daemon.SdNotifyReady); err != nil {
					log.Warn().Err(err).Msg("service manager not told")
				}
			}}
			s.Starting = stillStarting()
			boundMemory()
			defer func() {
				if _, err := daemon.SdNotify(false, daemon.SdNotifyStopping); err != nil {
					log.Warn().Err(err).Msg("service manager not told")
				}
			}()
			return s.Run(cmd.Context())
		},
	}
	cmd.Flags().String("listen", "", "address of the shop monitor (default: thoud.toml, else 127.0.0.1:8750); \"\" for none")
	addLogFlags(cmd)
	return cmd
}

// extendBy is how much longer the service manager waits after each word of a long start; said at most every extendEvery.
const (
	extendBy    = 30 * time.Second
	extendEvery = time.Second
)

// stillStarting tells the service manager how far a long start is, so that it waits as long as there is progress.
func stillStarting() func(words string) {
	var last time.Time
	return func(words string) {
		if time.Since(last) < extendEvery {
			return
		}
		last = time.Now()
		// Where nobody listens nothing is lost.
		_, _ = daemon.SdNotify(false, fmt.Sprintf("EXTEND_TIMEOUT_USEC=%d\nSTATUS=%s", extendBy.Microseconds(), words))
	}
}

// memoryWanted bounds what the garbage collector lets the service grow to where the environment does not say: a small
// computer of 512 MB keeps half of itself.
const memoryWanted = 256 << 20

// garbageWanted is how much garbage may lie beside what is in use once the service runs, in per cent, where the environment
// does not say: a bench makes little of it, and a small computer has better use for the memory. A start, which may fold a
// whole ledger, is quicker with the usual measure.
const garbageWanted = 30

// boundMemory sets a soft limit of memory.
func boundMemory() { boundMemoryTo(memoryWanted) }

func boundMemoryTo(bytes int64) {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(bytes)
	}
}

// garbageQuick is how much garbage may lie beside what is in use, in per cent, in a command that goes through a whole ledger:
// what is in use is little then, and most of it garbage soon. A quarter of its time went into looking for it.
const garbageQuick = 400

// memoryQuick bounds it: such a command runs beside the service, and is no quicker with twice as much.
const memoryQuick = 128 << 20

// quickGarbage trades memory for time, within the bound, where the environment says neither.
func quickGarbage() {
	boundMemoryTo(memoryQuick)
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(garbageQuick)
	}
}

// settleMemory gives back what a start needed, and keeps little garbage from then on.
func settleMemory() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(garbageWanted)
	}
	debug.FreeOSMemory()
}
