package service

import (
	"runtime/debug"
	"testing"
)

func TestVersionOf(t *testing.T) {
	vcs := func(rev, modified string) []debug.BuildSetting {
		return []debug.BuildSetting{{Key: "vcs.revision", Value: rev}, {Key: "vcs.modified", Value: modified}}
	}
	for _, c := range []struct {
		info debug.BuildInfo
		want string
	}{
		{debug.BuildInfo{Main: debug.Module{Version: "v0.2.0"}}, "0.2.0"},
		{debug.BuildInfo{Main: debug.Module{Version: "v0.2.1-0.20270301080000-0123456789ab+dirty"}}, "0.2.1-0.20270301080000-0123456789ab+dirty"},
		{debug.BuildInfo{Main: debug.Module{Version: "(devel)"}, Settings: vcs("0123456789abcdef0123", "false")}, "0123456789ab"},
		{debug.BuildInfo{Main: debug.Module{Version: "(devel)"}, Settings: vcs("0123456789abcdef0123", "true")}, "0123456789ab+dirty"},
		{debug.BuildInfo{Main: debug.Module{Version: "(devel)"}}, "unknown"},
	} {
		if got := versionOf(&c.info); got != c.want {
			t.Errorf("%+v: got %q, want %q", c.info, got, c.want)
		}
	}
}
