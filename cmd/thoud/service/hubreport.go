package service

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"thoud/pipeline/hub"
)

// reportName is where a running hub writes how its benches stand, for commands: it has no socket, since nothing is asked of it.
const reportName = "benches.json"

// HubReport is how the benches of a hub stand.
type HubReport struct {
	Hub     string       `json:"hub"`
	At      time.Time    `json:"at"`
	Running bool         `json:"running"`           // the hub runs now
	Trouble string       `json:"trouble,omitempty"` // what is wrong at the hub itself
	Benches []hub.Report `json:"benches"`
	// Doing is what each bench does now; it is in no file, but worked out for who asks.
	Doing map[string]string `json:"doing,omitempty"`
}

// reportEvery is how often it is written where nothing changes: an older one is that of a hub that does not run.
const (
	reportEvery = 10 * time.Second
	reportOld   = 3 * reportEvery
)

// reporter writes the report where it has changed.
type reporter struct {
	path string
	hub  string
	last []byte
	at   time.Time
}

func newReporter(dir, hubName string) *reporter {
	return &reporter{path: filepath.Join(dir, reportName), hub: hubName}
}

func (r *reporter) write(now time.Time, all []hub.Report, trouble string, running bool) error {
	body, err := json.Marshal(HubReport{Trouble: trouble, Benches: all})
	if err != nil {
		return err
	}
	if running && bytes.Equal(body, r.last) && now.Sub(r.at) < reportEvery {
		return nil
	}
	r.last, r.at = body, now
	text, err := json.Marshal(HubReport{Hub: r.hub, At: now.UTC(), Running: running, Trouble: trouble, Benches: all})
	if err != nil {
		return err
	}
	part := r.path + ".part"
	if err := os.WriteFile(part, text, 0o640); err != nil {
		return err
	}
	return os.Rename(part, r.path)
}

// IsHub reports whether a state folder is a hub's.
func IsHub(dir string) bool {
	for _, name := range []string{HubSettingsName, invitedName, reportName} {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			return true
		}
	}
	return false
}

// ReadHubReport reads how the benches of a hub's state folder stand, or stood when it ran last.
func ReadHubReport(dir string) (HubReport, error) {
	var r HubReport
	b, err := os.ReadFile(filepath.Join(dir, reportName))
	if errors.Is(err, fs.ErrNotExist) {
		return r, fmt.Errorf("%s: no hub has run here: is this a hub's state folder? (%w)", dir, err)
	}
	if err == nil {
		err = json.Unmarshal(b, &r)
	}
	r.Running = r.Running && time.Since(r.At) < reportOld
	return r, err
}
