package bus

import (
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"strings"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
)

// Who may do what on the embedded server.
//
// The bench's own connection, within the process, may do everything; it logs in with a password that is made at start
// and never leaves the process. Every other connection comes over the socket. It may ask (verbs and questions), hear
// what is told to all (results, live values, notices), and hear what it was answered itself; nothing else. So nobody in
// the group can forge an entry, purge or fill the stream, or read another's answers, with whatever tool.
//
// A client that wants answers gives a name when it connects, random and of its own making, and has its inboxes under
// that name (see inboxOf). Users of a fixed list could not do this: the permission to hear "_INBOX.>" is the permission
// to hear everybody's answers.

const (
	ownUser    = "thoud"   // of the bench's own connection
	inboxRoot  = "_INBOX_" // of a client's inboxes, with its name; the bench's own begin with "_INBOX."
	nameLength = 22        // at least: more than anybody guesses
	nameMax    = 64
)

// inboxOf is under what a client of a name hears its answers; it gives it to its NATS library as the inbox prefix.
func inboxOf(name string) string { return inboxRoot + name }

// goodName reports whether a client may be called so: long enough to be no guess, and with no sign that means something
// in a subject.
func goodName(name string) bool {
	if len(name) < nameLength || len(name) > nameMax {
		return false
	}
	for _, r := range name {
		if (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '_' && r != '-' {
			return false
		}
	}
	return true
}

// rights decides about every connection to the embedded server.
type rights struct {
	bench    string
	password string // of the bench's own connection
}

var _ server.Authentication = rights{}

func newRights(benchName string) rights { return rights{bench: benchName, password: rand.Text()} }

// Check lets a connection in, with its permissions, or refuses it.
func (r rights) Check(c server.ClientAuthentication) bool {
	opts := c.GetOpts()
	if opts.Username == ownUser {
		if subtle.ConstantTimeCompare([]byte(opts.Password), []byte(r.password)) != 1 {
			return false
		}
		c.RegisterUser(&server.User{Username: ownUser})
		return true
	}
	if opts.Username != "" && !goodName(opts.Username) {
		return false
	}
	c.RegisterUser(&server.User{Username: opts.Username, Permissions: r.permissions(opts.Username)})
	return true
}

// permissions of a connection from the socket. One without a name may ask and hear, but no answers.
func (r rights) permissions(name string) *server.Permissions {
	hear := []string{AllResults(r.bench), AllLive(r.bench), NoticeSubject(r.bench)}
	if name != "" {
		hear = append(hear, inboxOf(name)+".>")
	}
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: []string{AllVerbs(r.bench), AllAsks(r.bench)}},
		Subscribe: &server.SubjectPermission{Allow: hear},
	}
}

// LeafRights are those of a bench's link at a hub: it may tell what came of its entries, its newest values and its notices,
// and answer; it hears questions, and nothing else: neither another bench nor what a hub says to one.
func LeafRights(benchName string) *server.Permissions {
	// They end with >: with * there the server passes no wish to hear them on to the link, and nothing arrives (seen).
	tells := []string{subject(benchName, results, ">"), subject(benchName, live, ">"), NoticeSubject(benchName), HubAnswers(benchName)}
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: tells},
		Subscribe: &server.SubjectPermission{Allow: []string{subject(benchName, asks, ">")}},
	}
}

// notFromHub is what a bench lets in over a link from no hub, whatever the hub allows itself: verbs, entries, and the
// server's own commands. Nobody at a hub can do anything at a bench. The server keeps what stands here out both ways, so
// that what a bench tells its hubs cannot stand here too.
func notFromHub() []string {
	return []string{subject("*", verbs, ">"), subject("*", entries, ">"), "$JS.>", "$KV.>", "$OBJ.>", "$SYS.>", "_INBOX.>"}
}

// HubRights are those of a hub's own connection, where it is a client of servers that others keep: it hears every bench and
// asks it, and may nothing else.
func HubRights() *server.Permissions {
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: []string{subject("*", asks, ">")}},
		Subscribe: &server.SubjectPermission{Allow: []string{hubRoot + ".>", EveryResult, subject("*", live, "*"), subject("*", notices)}},
	}
}

// errNoInbox is why a question is not answered.
var errNoInbox = errors.New("it asks for its answer at a subject that is no inbox")

// respond answers a question. The bench may publish anywhere and whoever asks names the subject of the answer, so that
// only an inbox is answered, or a hub where it asks for this bench's answers: else a question could have its answer put into the stream, or sent to the server's own
// commands.
func respond(m *nats.Msg, answer []byte, also string) error {
	if !strings.HasPrefix(m.Reply, "_INBOX") && (also == "" || !strings.HasPrefix(m.Reply, also)) {
		return fmt.Errorf("%s: %w (%.80q)", m.Subject, errNoInbox, m.Reply)
	}
	return m.Respond(answer)
}
