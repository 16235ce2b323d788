package service

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
	"thoud/store"
)

// startOf is the position from which the stream is read at a start: after the checkpoint, or from the beginning where the
// ledger has lost entries that it had, so that the stream gives again what it still holds.
func startOf(l store.Loaded) pipeline.Position {
	if l.Recorded > l.Chain.N {
		return pipeline.Position{}
	}
	return pipeline.Position{Generation: l.Checkpoint.Generation, Seq: l.Checkpoint.Seq}
}

// heldAgainst holds the two copies of the last entries, ledger and stream, against each other, and says in words what one
// of them has lost: before is the ledger as it was found, delivered where it ended after the stream gave what it gives,
// end where it ends after what was found in the stream's files besides.
func heldAgainst(before store.Loaded, stream bus.Holding, delivered uint64, end bench.Chain, aside pipeline.Aside, backups string) []bench.Notice {
	var out []bench.Notice
	tell := func(source, format string, args ...any) {
		out = append(out, bench.Notice{At: time.Now().UnixMicro(), Tone: "fault", Source: source, Words: fmt.Sprintf(format, args...), Stands: true})
	}
	lost := before.Recorded > before.Chain.N
	switch {
	case lost && end.N >= before.Recorded:
		tell("ledger", "the ledger had lost its entries %d to %d; they were fetched again from the stream. Look for why: a disk that fails, a file that was put back", before.Chain.N+1, before.Recorded)
	case lost:
		tell("ledger", "the ledger had lost its entries %d to %d, and the stream gave back up to %d only: the rest is gone from both. Stop, and go back to a backup (thoud restore) if it reaches further", before.Chain.N+1, before.Recorded, end.N)
	}
	sameStream := stream.Generation == before.Checkpoint.Generation
	switch {
	case before.Chain.N > 0 && before.Checkpoint.Generation != "" && !sameStream:
		tell("stream", "the stream that held the last entries a second time is gone, and another was begun; the ledger has every entry up to %d", end.N)
	case sameStream && stream.Last < before.Checkpoint.Seq:
		tell("stream", "the stream ends with message %d, the ledger has recorded up to message %d: the stream was put back or damaged; the ledger has every entry up to %d", stream.Last, before.Checkpoint.Seq, end.N)
	}
	if n := stream.Missing(); n > 0 {
		tell("stream damaged", "%d of the messages %d to %d in the stream are damaged or gone; the ledger has every entry up to %d. Look for why: a disk that fails", n, stream.First, stream.Last, end.N)
	}
	if end.N > delivered {
		tell("stream damaged", "the stream is damaged behind entry %d; entries %d to %d were found in its files and are in the ledger. Look for why: a disk that fails", delivered, delivered+1, end.N)
	}
	switch {
	case aside.Entries > 0 && aside.First <= end.N+1:
		tell("hole", "entry %d is damaged in the stream and in no ledger; %d that were found, up to %d, cannot be sealed onto what is there and were set aside (thoud quarantine list). Stop, and go back to a newer backup (thoud restore) if there is one: they are in neither the ledger nor the stream", end.N+1, aside.Entries, aside.Last)
	case aside.Entries > 0:
		tell("hole", "entries %d to %d are in neither the ledger nor the stream; %d later ones, up to %d, do not follow what is there and were set aside (thoud quarantine list). Stop, and go back to a newer backup (thoud restore) if there is one", end.N+1, aside.First-1, aside.Entries, aside.Last)
	case before.Aside > 0:
		tell("quarantine", "%d messages were set aside before now because they do not belong to this ledger, or something before them is missing: thoud quarantine list shows them", before.Aside)
	}
	if end.N == 0 && backups != "" {
		tell("ledger", "there is neither a ledger nor a stream here, but backups lie in %s: if this bench is not new, stop, and go back to the newest (thoud restore)", backups)
	}
	return out
}

// shortOfNotes says where the ledger ends before an entry of which a note was made: both copies have lost what came
// between, and neither of them knows.
func shortOfNotes(dir string, end bench.Chain) (bench.Notice, bool) {
	noted, err := lastNoted(dir)
	if err != nil || noted <= end.N {
		return bench.Notice{}, false
	}
	words := fmt.Sprintf("a note was made of entry %d, and the ledger ends with entry %d: what came between is in neither the ledger nor the stream. Stop, and go back to a backup (thoud restore) if one reaches further; if an older one was put in place on purpose, this is what it lacks", noted, end.N)
	return bench.Notice{At: time.Now().UnixMicro(), Tone: "fault", Source: "notes", Words: words, Stands: true}, true
}

// backups is the folder of backups, where there are any.
func (s *Service) backups() string {
	dir := filepath.Join(s.Dir, BackupsFolder)
	if all, err := os.ReadDir(dir); err != nil || len(all) == 0 {
		return ""
	}
	return dir
}
