package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/line"
	"thoud/cmd/thoud/service"
	"thoud/devices"
)

func newIdentifyCommand() *cobra.Command {
	var mayAsk bool
	cmd := &cobra.Command{Use: "identify PORT", Short: "Find out how an unknown gauge speaks, by listening at the usual settings", Args: cobra.ExactArgs(1),
		Long: `identify listens at the usual line settings and ranks the profiles that fit what it hears. It writes nothing to the
port unless --ask allows it. Keep pressing the gauge's data key, or move it, while it listens.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			list, err := profileList(cmd)
			if err != nil {
				return err
			}
			id := line.Identifier{Open: line.OpenSerial, Profiles: list, Ask: mayAsk, Each: service.ListenEach,
				Progress: progressLine(cmd.ErrOrStderr())}
			guesses, err := id.Run(cmd.Context(), args[0])
			if errors.Is(err, line.ErrNothingHeard) {
				return fmt.Errorf("%w\n%s", err, nothingHeardHelp)
			}
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), guessLines(guesses))
			}
			printGuesses(cmd.OutOrStdout(), args[0], guesses)
			return nil
		}}
	cmd.Flags().BoolVar(&mayAsk, "ask", false, "also send the requests of polled gauges; without it nothing is written to the port")
	return cmd
}

const nothingHeardHelp = `check: is the gauge switched on, and its cable a data cable, not for charging only?
       does it send only when its data key is pressed? press it while this listens; or allow asking with --ask
       is the user in the group dialout? do ModemManager or brltty hold the port? thoud checkup tells`

// guess is a line of identify's JSON.
type guess struct {
	Profile string   `json:"profile"`
	Line    string   `json:"line"`
	Good    int      `json:"good"`
	Bad     int      `json:"bad"`
	Covered float64  `json:"covered"`
	Why     []string `json:"why"`
	Samples []string `json:"samples"`
	Unit    string   `json:"unit_not_named,omitempty"` // what the profile takes, as the frames name none
	Longest int      `json:"longest,omitempty"`        // bytes a frame may have
}

func guessLines(list []devices.Guess) []guess {
	out := []guess{}
	for _, g := range list {
		one := guess{Profile: g.Profile.Name, Line: g.Profile.Line.String(), Good: g.Good, Bad: g.Bad, Covered: g.Covered, Why: g.Why,
			Unit: unnamedUnit(g), Longest: g.Longest}
		for _, s := range g.Samples {
			one.Samples = append(one.Samples, sampleWords(s))
		}
		out = append(out, one)
	}
	return out
}

// unnamedUnit is the unit that is taken for what was read without one, "" where the frames name it.
func unnamedUnit(g devices.Guess) string {
	for _, s := range g.Samples {
		if s.Unnamed {
			return s.Value.Unit.Code
		}
	}
	return ""
}

// registerCommand is how a gauge that was identified is registered. What the frames do not say stands in capitals.
func registerCommand(port string, g devices.Guess) string {
	role := g.Profile.Role
	if role == "" {
		role = "indicator"
	}
	words := fmt.Sprintf("thoud gauge add NAME --port %s --profile %s --role %s", port, g.Profile.Name, role)
	if len(g.Profile.Channels()) > 1 {
		words += " --channel CHANNEL"
	}
	if unnamedUnit(g) != "" {
		words += " --unit WHAT-ITS-DISPLAY-SHOWS"
	}
	if g.Longest > 0 {
		words += fmt.Sprintf(" --longest %d", g.Longest)
	}
	return words
}

func sampleWords(s devices.Sample) string {
	words := s.Status.String()
	if s.Value.Valid() {
		words = s.Value.String()
	}
	if s.Unnamed {
		words += " (the profile's unit)"
	}
	if s.Key != "" {
		words = "key " + s.Key
	}
	if s.Channel != "" {
		words = s.Channel + ": " + words
	}
	return words
}

// guessesShown is how many guesses a person is shown.
const guessesShown = 4

func printGuesses(w io.Writer, port string, list []devices.Guess) {
	for i, g := range list[:min(len(list), guessesShown)] {
		fmt.Fprintf(w, "%d. %s at %s: %s\n", i+1, g.Profile.Name, g.Profile.Line, g.Profile.Title)
		for _, why := range g.Why {
			fmt.Fprintln(w, "   -", why)
		}
		var shown []string
		for _, s := range g.Samples {
			shown = append(shown, sampleWords(s))
		}
		fmt.Fprintln(w, "   read:", strings.Join(shown, ", "))
		fmt.Fprintln(w, "   register it:", registerCommand(port, g))
	}
}

func profileList(cmd *cobra.Command) ([]devices.Profile, error) {
	dir, err := stateDir(cmd)
	if err != nil {
		return nil, err
	}
	all, err := service.LoadProfiles(filepath.Join(dir, service.ProfilesFolder))
	if err != nil {
		return nil, err
	}
	var out []devices.Profile
	for _, p := range all {
		out = append(out, p)
	}
	sortByName(out)
	return out, nil
}
