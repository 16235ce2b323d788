package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/capture/line"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/store"
	"thoud/store/disk"
)

// finding is one thing that checkup looked at.
type finding struct {
	What   string `json:"what"`
	OK     bool   `json:"ok"`
	Words  string `json:"words"`
	Remedy string `json:"remedy,omitempty"`
}

func newCheckupCommand() *cobra.Command {
	return &cobra.Command{Use: "checkup", Short: "Look for what could keep gauges or the service from working, with the remedy", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			list := checkup(cmd.Context(), dir)
			if wantJSON(cmd) {
				if err := printJSON(cmd.OutOrStdout(), list); err != nil {
					return err
				}
			}
			bad := 0
			for _, f := range list {
				if !f.OK {
					bad++
				}
				if wantJSON(cmd) {
					continue
				}
				mark := "good"
				if !f.OK {
					mark = "LOOK"
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s  %s: %s\n", mark, f.What, f.Words)
				if f.Remedy != "" && !f.OK {
					fmt.Fprintln(cmd.OutOrStdout(), "      ", f.Remedy)
				}
			}
			if bad > 0 {
				return &silentError{1}
			}
			return nil
		}}
}

// checkup looks at everything in turn; each look is its own function.
func checkup(ctx context.Context, dir string) []finding {
	var out []finding
	if service.IsHub(dir) {
		for _, look := range []func(context.Context, string) []finding{lookAtClock, lookAtDisk, lookAtHub, lookAtHubsBackup} {
			out = append(out, look(ctx, dir)...)
		}
		return out
	}
	for _, look := range []func(context.Context, string) []finding{
		lookAtRights, lookAtPorts, lookAtGrabbers, lookAtRules, lookAtLatency, lookAtClock, lookAtState, lookAtDisk, lookAtLedger, lookAtBackup, lookAtService,
	} {
		out = append(out, look(ctx, dir)...)
	}
	return out
}

func lookAtRights(context.Context, string) []finding {
	f := finding{What: "right to open serial ports", Remedy: "sudo usermod -aG dialout,thoud $USER, then log in again"}
	u, err := user.Current()
	if err != nil {
		f.Words = "who this user is cannot be found out: " + err.Error()
		return []finding{f}
	}
	if u.Uid == "0" {
		f.OK, f.Words = true, "this is root"
		return []finding{f}
	}
	ids, err := u.GroupIds()
	if err != nil {
		f.Words = "the groups of " + u.Username + " cannot be found out: " + err.Error()
		return []finding{f}
	}
	if g, err := user.LookupGroup("dialout"); err == nil && slices.Contains(ids, g.Gid) {
		f.OK, f.Words = true, u.Username+" is in the group dialout"
		return []finding{f}
	}
	f.Words = u.Username + " is not in the group dialout"
	return []finding{f}
}

func lookAtPorts(context.Context, string) []finding {
	f := finding{What: "adapters", OK: true}
	ports, err := line.SystemPorts().List()
	switch {
	case err != nil:
		f.OK, f.Words, f.Remedy = false, err.Error(), "is this a Linux machine with sysfs?"
	case len(ports) == 0:
		f.Words = "no USB serial adapter is plugged in"
	default:
		f.Words = fmt.Sprintf("%d plugged in", len(ports))
		for _, p := range ports {
			if p.Known == "socket" {
				f.Words += fmt.Sprintf("; %s has no serial number and is known by its socket: keep it there", p.Path)
			}
		}
	}
	return []finding{f}
}

// lookAtGrabbers finds programs that are known to open serial adapters by themselves.
func lookAtGrabbers(context.Context, string) []finding {
	running := map[string]bool{}
	names, err := filepath.Glob("/proc/[0-9]*/comm")
	if err != nil {
		return nil
	}
	for _, n := range names {
		if b, err := os.ReadFile(n); err == nil {
			running[strings.TrimSpace(string(b))] = true
		}
	}
	var out []finding
	for _, g := range []struct{ name, remedy string }{
		{"ModemManager", "install systemd/70-thoud.rules, which tells it to leave adapters alone, or: sudo systemctl disable --now ModemManager"},
		{"brltty", "it takes some adapters for a Braille display: sudo apt remove brltty, where nobody here needs it"},
	} {
		f := finding{What: g.name, OK: !running[g.name], Words: "is not running", Remedy: g.remedy}
		if running[g.name] {
			f.Words = "is running and may grab an adapter"
		}
		out = append(out, f)
	}
	return out
}

func lookAtRules(context.Context, string) []finding {
	for _, dir := range []string{"/etc/udev/rules.d", "/usr/lib/udev/rules.d", "/lib/udev/rules.d"} {
		if _, err := os.Stat(filepath.Join(dir, "70-thoud.rules")); err == nil {
			return []finding{{What: "device rules", OK: true, Words: "in " + dir}}
		}
	}
	return []finding{{What: "device rules", Words: "70-thoud.rules is not installed", Remedy: "copy systemd/70-thoud.rules to /etc/udev/rules.d, then: sudo udevadm control --reload"}}
}

// lookAtLatency finds drivers that hold bytes back.
func lookAtLatency(context.Context, string) []finding {
	files, err := filepath.Glob("/sys/bus/usb-serial/devices/*/latency_timer")
	if err != nil || len(files) == 0 {
		return nil
	}
	var out []finding
	for _, path := range files {
		b, err := os.ReadFile(path)
		if err != nil {
			continue
		}
		ms := strings.TrimSpace(string(b))
		port := filepath.Base(filepath.Dir(path))
		out = append(out, finding{What: "latency of " + port, OK: ms == "1", Words: "the driver holds bytes back for " + ms + " ms",
			Remedy: "install systemd/70-thoud.rules, or: echo 1 | sudo tee " + path})
	}
	return out
}

func lookAtClock(context.Context, string) []finding {
	f := finding{What: "clock", OK: service.ClockOK(), Words: time.Now().Format("2006-01-02 15:04 MST"), Remedy: "set the clock: entries made now are marked as of a uncertain time"}
	if _, err := os.Stat("/run/systemd/timesync/synchronized"); err == nil {
		f.Words += ", kept by time synchronisation"
	}
	return []finding{f}
}

func lookAtState(_ context.Context, dir string) []finding {
	f := finding{What: "state folder", Words: dir, Remedy: "run as the user that owns it, or give another --state"}
	if _, err := os.Stat(dir); errors.Is(err, os.ErrNotExist) {
		f.OK, f.Words = true, dir+" is not there yet; thoud run makes it"
		return []finding{f}
	}
	probe, err := os.CreateTemp(dir, ".probe-*")
	if err == nil {
		err = errors.Join(probe.Close(), os.Remove(probe.Name()))
	}
	switch {
	case errors.Is(err, fs.ErrPermission) && dir == service.Installed.Dir && service.Installed.Usable():
		f.OK, f.Words = true, dir+" is the installed service's; this user asks it and reads its ledger"
		return []finding{f}
	case err != nil:
		f.Words += ": " + err.Error()
		return []finding{f}
	}
	f.OK = true
	out := []finding{f}
	settings := filepath.Join(dir, service.SettingsName)
	if info, err := os.Stat(settings); err == nil && info.Mode().Perm()&0o077 != 0 {
		out = append(out, finding{What: service.SettingsName, Words: fmt.Sprintf("others may read it (%s), and hashes of access codes may stand in it", info.Mode().Perm()), Remedy: "chmod 600 " + settings})
	}
	if _, err := service.ReadSettings(dir); err != nil {
		out = append(out, finding{What: service.SettingsName, Words: err.Error(), Remedy: "mend the line; the service does not start with it"})
	}
	if _, err := service.LoadProfiles(filepath.Join(dir, service.ProfilesFolder)); err != nil {
		out = append(out, finding{What: service.ProfilesFolder, Words: err.Error(), Remedy: "mend it (thoud profile check FILE), or move it away"})
	}
	return out
}

// spaceWanted is the free space below which a shop should make room before a build.
const spaceWanted = 200 << 20

func lookAtDisk(_ context.Context, dir string) []finding {
	space, err := disk.NearestSpace(dir)
	if err != nil {
		return []finding{{What: "disk", Words: err.Error()}}
	}
	return []finding{{What: "disk", OK: space.Free > spaceWanted, Words: fmt.Sprintf("%d MB free for %s", space.Free>>20, dir), Remedy: "make room before a build: nothing is taken while the disk is full"}}
}

func lookAtLedger(ctx context.Context, dir string) []finding {
	path := filepath.Join(dir, service.LedgerName)
	if _, err := os.Stat(path); err != nil {
		return []finding{{What: "ledger", OK: true, Words: "none yet"}}
	}
	f := finding{What: "ledger", Remedy: "thoud verify says which row; put a backup in its place"}
	s, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		f.Words = err.Error()
		return []finding{f}
	}
	defer s.Close()
	name, err := s.Bench(ctx)
	if err != nil {
		f.Words = err.Error()
		return []finding{f}
	}
	n, err := s.Count(ctx, name)
	if err != nil {
		f.Words = err.Error()
		return []finding{f}
	}
	f.OK = n.Quarantined == 0
	f.Words = fmt.Sprintf("bench %q, %d entries, %d readings, %d results", name, n.Entries, n.Readings, n.Results)
	if n.Quarantined > 0 {
		f.Words += fmt.Sprintf(", %d messages set aside that did not follow", n.Quarantined)
		f.Remedy = "is a second bench using this name? nothing is lost: they are kept beside the ledger"
	}
	return []finding{f}
}

// lookAtBackup finds a ledger that would not outlive its disk.
func lookAtBackup(ctx context.Context, dir string) []finding {
	set, err := service.ReadSettings(dir)
	if errors.Is(err, fs.ErrPermission) {
		return []finding{{What: "backup", OK: true, Words: "the settings are the service's alone; it tells on the page when a copy is missing"}}
	}
	if err != nil {
		return nil // told by the state folder's look
	}
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		return nil // told by the ledger's look, or there is none
	}
	defer s.Close()
	name, err := s.Bench(ctx)
	if err != nil || name == "" {
		return nil
	}
	if n, err := s.Count(ctx, name); err != nil || n.Readings == 0 {
		return nil // nothing was measured yet that could be lost
	}
	words, want := service.BackupLook(ctx, s, name, dir, set, time.Now())
	return []finding{{What: "backup", OK: want == "", Words: words, Remedy: want}}
}

func lookAtService(ctx context.Context, dir string) []finding {
	f := finding{What: "service", Remedy: "thoud run"}
	name, err := service.BenchName(ctx, dir)
	if err != nil {
		return nil // told by the state folder's look
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, name)
	if err != nil {
		f.Words = err.Error()
		return []finding{f}
	}
	defer c.Close()
	st, err := c.Status(ctx)
	if err != nil {
		f.Words = err.Error()
		return []finding{f}
	}
	f.OK, f.Words = true, fmt.Sprintf("running, entry %d", st.N)
	out := []finding{f}
	for _, g := range st.Gauges {
		out = append(out, finding{What: "gauge " + g.Name, OK: g.Open || g.Known == "keyed", Words: gaugeWords(g.Live, g.Fault), Remedy: "is it plugged in and switched on?"})
	}
	for _, t := range st.Troubles {
		out = append(out, finding{What: t.Source, Words: t.Words})
	}
	return out
}

func gaugeWords(live, fault string) string {
	switch {
	case fault != "":
		return fault
	case live == "":
		return "has sent nothing yet"
	}
	return "shows " + live
}
