package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/devices"
)

func sortByName(list []devices.Profile) {
	slices.SortFunc(list, func(a, b devices.Profile) int { return strings.Compare(a.Name, b.Name) })
}

func newProfileCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "profile", Short: "Profiles: how kinds of gauge speak"}
	cmd.AddCommand(newProfileListCommand(), newProfileShowCommand(), newProfileCheckCommand())
	return cmd
}

// profileLine is a profile in a list.
type profileLine struct {
	Name   string `json:"name"`
	Family string `json:"family"`
	Line   string `json:"line"`
	Polled bool   `json:"polled"`
	Title  string `json:"title"`
}

func newProfileListCommand() *cobra.Command {
	return &cobra.Command{Use: "list", Short: "List the profiles that ship and your own", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			list, err := profileList(cmd)
			if err != nil {
				return err
			}
			lines := []profileLine{}
			rows := [][]string{{"PROFILE", "FAMILY", "LINE", "SENDS", "WHAT IT IS"}}
			for _, p := range list {
				lines = append(lines, profileLine{p.Name, p.Family, p.Line.String(), p.Poll.Polled(), p.Title})
				sends := "by itself"
				if p.Poll.Polled() {
					sends = "when asked"
				}
				rows = append(rows, []string{p.Name, p.Family, p.Line.String(), sends, p.Title})
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), lines)
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}

func newProfileShowCommand() *cobra.Command {
	return &cobra.Command{Use: "show NAME", Short: "Show a profile as the TOML to begin your own from", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			list, err := profileList(cmd)
			if err != nil {
				return err
			}
			for _, p := range list {
				if p.Name != args[0] {
					continue
				}
				if wantJSON(cmd) {
					return printJSON(cmd.OutOrStdout(), p)
				}
				_, err := rawOut(cmd).Write(p.TOML())
				return err
			}
			return fmt.Errorf("there is no profile %q: thoud profile list shows what there is", args[0])
		}}
}

func newProfileCheckCommand() *cobra.Command {
	return &cobra.Command{Use: "check FILE", Short: "Check a profile file: every fault with its line and column", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := os.ReadFile(args[0])
			if err != nil {
				return err
			}
			p, err := devices.ParseProfile(args[0], text)
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), p)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: a %s profile at %s; put it into the folder %s of the state folder\n", args[0], p.Family, p.Line, service.ProfilesFolder)
			return nil
		}}
}
