package service

import (
	"runtime/debug"
	"strings"
)

// stamped is the version that the release script builds in, from a copy of the tree without its repository.
var stamped string

// Version names this build: the tag it was made from, or the commit, and "+dirty" where files were changed since. The go
// command stamps it into the binary; "unknown" where it was built without its repository.
func Version() string {
	if stamped != "" {
		return stamped
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	return versionOf(info)
}

func versionOf(info *debug.BuildInfo) string {
	v := strings.TrimPrefix(info.Main.Version, "v")
	if v == "" || v == "(devel)" {
		v = "unknown"
	}
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	if v == "unknown" && settings["vcs.revision"] != "" {
		v = settings["vcs.revision"][:min(12, len(settings["vcs.revision"]))]
		if settings["vcs.modified"] == "true" {
			v += "+dirty"
		}
	}
	return v
}
