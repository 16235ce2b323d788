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
	reportAgain = 20 * time.Millisecond
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
	text, err := json.Marshal(HubReport{Hub: r.hub, At: now.UTC(), Running: running, Trouble: trouble, Benches: all})
	if err != nil {
		return err
	}
	if err := r.put(text); err != nil {
		return err
	}
	r.last, r.at = body, now
	return nil
}

// reportRoom is what a report takes on the disk at the least: so there is room to say that the disk is full.
const reportRoom = 16 << 10

// put writes a report in the old one's place. Where there is no room for a second file it goes over the old one; who reads it
// in that moment reads it once more.
func (r *reporter) put(text []byte) error {
	if short := reportRoom - len(text); short > 0 {
		text = append(text, bytes.Repeat([]byte{' '}, short)...)
	}
	part := r.path + ".part"
	err := os.WriteFile(part, text, 0o640)
	if err == nil {
		return os.Rename(part, r.path)
	}
	_ = os.Remove(part)
	f, again := os.OpenFile(r.path, os.O_WRONLY, 0)
	if again != nil {
		return err
	}
	_, again = f.WriteAt(text, 0)
	if again == nil {
		again = f.Truncate(int64(len(text)))
	}
	if errors.Join(again, f.Close()) != nil {
		return err
	}
	return nil
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
	if err != nil { // it may be written in this moment
		time.Sleep(reportAgain)
		if b, err = os.ReadFile(filepath.Join(dir, reportName)); err == nil {
			err = json.Unmarshal(b, &r)
		}
	}
	r.Running = r.Running && time.Since(r.At) < reportOld
	return r, err
}
