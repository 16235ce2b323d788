package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

func newHubCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "hub", Short: "Keep the ledgers of several benches together in one place", Args: cobra.NoArgs,
		Long: `A hub keeps a copy of the ledger of every bench that was invited and has joined. The benches do not need it: each works the
same without it, and its own ledger stays complete. Nobody at a hub can do anything at a bench.

Give it a state folder of its own. thoud guide benches goes through it step by step.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			cfg, err := hubSettings(cmd, dir)
			if err != nil {
				return err
			}
			log, err := newLogger(cmd)
			if err != nil {
				return err
			}
			boundMemoryTo(hubMemoryWanted)
			h := &service.Hub{Dir: dir, Settings: cfg, Log: log, Ready: func(address string) {
				if address == "" {
					address = fmt.Sprint(cfg.NATS.URL)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "thoud: hub %q, state in %s, benches link to %s\n", cfg.Name, dir, address)
				if _, err := daemon.SdNotify(false, daemon.SdNotifyReady); err != nil {
					log.Warn().Err(err).Msg("service manager not told")
				}
			}}
			return h.Run(cmd.Context())
		}}
	cmd.Flags().String("listen", "", "where benches link to (default: hub.toml, else 0.0.0.0:7422)")
	cmd.Flags().StringArray("nats", nil, "address of NATS servers that carry the links in place of the hub's own; may be given several times")
	cmd.Flags().String("creds", "", "with --nats: credentials file to log in with")
	addLogFlags(cmd)
	cmd.AddCommand(newHubInviteCommand(), newHubListCommand())
	return cmd
}

// hubMemoryWanted bounds what the garbage collector lets a hub grow to where the environment does not say: with a thousand
// benches it keeps to it, and what the program itself takes comes on top.
const hubMemoryWanted = 160 << 20

// hubSettings are those of the state folder, with what the command line says otherwise.
func hubSettings(cmd *cobra.Command, dir string) (service.HubSettings, error) {
	c, err := service.ReadHubSettings(dir)
	if err != nil {
		return c, err
	}
	if cmd.Flags().Changed("listen") {
		c.Listen, err = cmd.Flags().GetString("listen")
	}
	if err == nil && cmd.Flags().Changed("nats") {
		c.NATS.URL, err = cmd.Flags().GetStringArray("nats")
	}
	if err == nil && cmd.Flags().Changed("creds") {
		c.NATS.Creds, err = cmd.Flags().GetString("creds")
	}
	return c, err
}

func newHubInviteCommand() *cobra.Command {
	var address []string
	var key, file, creds string
	cmd := &cobra.Command{Use: "invite BENCH", Short: "Invite a bench to this hub: write the file that it joins by", Args: cobra.ExactArgs(1),
		Long: `Makes a key for the bench and writes the invitation, one short file: carry it to the bench, thoud join FILE there, and
delete it. Whoever has it can answer for the bench. Invited anew, a bench gets a new key and the old one ends; do that where a
bench has moved to another machine or was put back from a backup.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			if file == "" {
				file = args[0] + ".invitation"
			}
			if _, err := os.Lstat(file); err == nil && key == "" {
				return fmt.Errorf("%s: %w; name another file with -o", file, os.ErrExist)
			}
			i, err := service.InviteAs(dir, args[0], address, key, creds)
			if err != nil {
				return err
			}
			if key != "" {
				fmt.Fprintf(cmd.OutOrStdout(), "bench %s is pulled by the key that it links by already\n", i.Bench)
				return nil
			}
			text, err := i.Text()
			if err != nil {
				return err
			}
			if err := os.WriteFile(file, text, 0o600); err != nil {
				return err
			}
			user, err := service.ClusterUser(dir, i)
			if err != nil {
				return err
			}
			if user != "" {
				fmt.Fprintf(cmd.OutOrStdout(), "put among the users of the servers' account, and have them read it:\n%s\n", user)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "written: %s. Carry it to bench %s (it finds the hub at %v), thoud join it there, then delete it\n", file, i.Bench, i.Address)
			return nil
		}}
	cmd.Flags().StringArrayVar(&address, "address", nil, "HOST:PORT where the bench finds the hub (default: address in hub.toml, else this machine's name); may be given several times")
	cmd.Flags().StringVarP(&file, "output", "o", "", "file to write (default BENCH.invitation)")
	cmd.Flags().StringVar(&creds, "creds", "", "credentials file of the bench, made by the keeper of others' servers: the invitation carries it")
	cmd.Flags().StringVar(&key, "key", "", "public nkey that others' servers know the bench by already: nothing is written")
	return cmd
}

func newHubListCommand() *cobra.Command {
	return &cobra.Command{Use: "list", Short: "List the benches of this hub: what each does, how far its copy is, and what is wrong", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			r, err := service.ReadHubReport(dir)
			if err != nil {
				return err
			}
			if r.Doing, err = service.DoingIn(cmd.Context(), dir, r.Benches); err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), r)
			}
			printHub(cmd.OutOrStdout(), r)
			return nil
		}}
}

func printHub(w io.Writer, r service.HubReport) {
	if !r.Running {
		fmt.Fprintf(w, "hub %s does not run; its benches as they were at %s\n", r.Hub, r.At.Local().Format(time.DateTime))
	}
	if r.Trouble != "" {
		fmt.Fprintln(w, "trouble of the hub itself:", r.Trouble)
	}
	for _, b := range r.Benches {
		fmt.Fprintf(w, "%s: %s\n", b.Bench, service.CopyWords(b))
		fmt.Fprintln(w, "  now:", r.Doing[b.Bench])
		for _, words := range service.Wrong(b, time.Now()) {
			fmt.Fprintln(w, "  trouble:", words)
		}
	}
}

func newJoinCommand() *cobra.Command {
	var authority string
	cmd := &cobra.Command{Use: "join FILE", Short: "Join a hub by its invitation", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			cfg, err := service.ReadSettings(dir)
			if err != nil {
				return err
			}
			b, err := os.ReadFile(args[0])
			if err != nil {
				return err
			}
			i, err := service.ParseInvitation(args[0], b)
			if err != nil {
				return err
			}
			if authority != "" {
				err = i.Trust(authority)
			}
			if err == nil {
				err = service.Join(dir, cfg.Bench, i)
			}
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "bench %s joins hub %s at the next start of its service: start it again. Then delete %s\n", i.Bench, i.Hub, args[0])
			return nil
		}}
	cmd.Flags().StringVar(&authority, "ca", "", "file of the authority (PEM) that signed the hub's certificate, where the hub was given one that this machine does not trust")
	return cmd
}

func newLeaveCommand() *cobra.Command {
	return &cobra.Command{Use: "leave HUB", Short: "Leave a hub; what it has stays there", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			if err := service.Leave(dir, args[0]); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "left: the link to hub %s ends at the next start of the service\n", args[0])
			return nil
		}}
}
