package service

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
)

// linkFault says in one sentence why a server at the other end of a link is not believed or does not let in, and whether that
// is so: a server that is only away is another matter.
func linkFault(err error) (words string, refused bool) {
	var unknown x509.UnknownAuthorityError
	var invalid x509.CertificateInvalidError
	var host x509.HostnameError
	switch {
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired && time.Now().Before(invalid.Cert.NotBefore):
		return fmt.Sprintf("its certificate holds from %s on only: is the clock of this machine right?", invalid.Cert.NotBefore.Local().Format(time.DateTime)), true
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return fmt.Sprintf("its certificate ran out on %s: it must be renewed there", invalid.Cert.NotAfter.Local().Format(time.DateOnly)), true
	case errors.As(err, &host):
		return fmt.Sprintf("its certificate is made out to %s, and it was looked for as %s: have it made out to that too, or use the other name", namesIn(host.Certificate), host.Host), true
	case errors.As(err, &unknown):
		return fmt.Sprintf("its certificate is signed by %q, which is no authority that counts here: name the right one, or have it invite anew", unknown.Cert.Issuer.CommonName), true
	case errors.Is(err, nats.ErrAuthorization), errors.Is(err, nats.ErrAuthExpired):
		return "it does not let in whoever has these credentials: are they those that its keeper gave, and still good?", true
	}
	return err.Error(), false
}

func namesIn(c *x509.Certificate) string {
	names := append([]string{}, c.DNSNames...)
	for _, ip := range c.IPAddresses {
		names = append(names, ip.String())
	}
	if len(names) == 0 {
		return "no name"
	}
	return strings.Join(names, ", ")
}

// linkTry is how long each step of a try may take.
const linkTry = 5 * time.Second

// tryLink makes a link as far as to know whether the server at its other end is believed, and lets it go. The embedded server,
// which makes the links, tells nobody why one does not come about.
func tryLink(ctx context.Context, address string, conf *tls.Config) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return err
	}
	dialer := net.Dialer{Timeout: linkTry}
	conn, err := dialer.DialContext(ctx, "tcp", address)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := conn.SetDeadline(time.Now().Add(linkTry)); err != nil {
		return err
	}
	greeting, err := bufio.NewReaderSize(conn, 16<<10).ReadString('\n')
	if err != nil || !strings.HasPrefix(greeting, "INFO ") {
		return fmt.Errorf("what answers at %s is no such server (it says %.40q)", address, greeting)
	}
	conf = conf.Clone()
	if conf.ServerName == "" {
		conf.ServerName = host
	}
	return tls.Client(conn, conf).HandshakeContext(ctx)
}

// linkLook is how often links that do not stand are looked into.
const linkLook = 10 * time.Second

// look finds out why links do not stand, as long as some do not.
func (l *hubLinks) look(ctx context.Context) {
	t := time.NewTimer(hubLinkWait)
	defer t.Stop()
	began := time.Now()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		for _, i := range l.joined {
			l.tell(i.Hub, l.whyNot(ctx, i, began))
		}
		t.Reset(linkLook)
	}
}

// whyNot is why the link to a hub does not stand; empty where it does, or nothing is known.
func (l *hubLinks) whyNot(ctx context.Context, i Invitation, began time.Time) string {
	l.mu.Lock()
	heard := began
	seen, ever := l.seen[i.Hub]
	if ever {
		heard = seen.at
	}
	l.mu.Unlock()
	if l.bus.Links() >= len(l.joined) {
		if ever || time.Since(began) < hubQuiet {
			return ""
		}
		return fmt.Sprintf("something answers there and lets this bench in, and hub %s does not ask for it: is the hub running, and was bench %s invited by the key that is in this invitation?", i.Hub, l.bench)
	}
	conf, err := i.tls()
	if err != nil {
		return err.Error()
	}
	why := ""
	for _, a := range i.Address {
		err := tryLink(ctx, a, conf)
		if err == nil {
			if time.Since(heard) < hubQuiet { // it is another hub's link that does not stand, or this one is being made
				return ""
			}
			return fmt.Sprintf("%s answers, and does not let this bench in: was it invited anew, or let go? Have it invited again, and join", a)
		}
		words, _ := linkFault(err)
		why = fmt.Sprintf("at %s: %s", a, words)
	}
	return why
}

// tell keeps why a link does not stand, and logs it once.
func (l *hubLinks) tell(hubName, why string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.why[hubName] == why {
		return
	}
	l.why[hubName] = why
	if why != "" {
		l.log.Warn().Str("hub", hubName).Msg("no link: " + why)
	}
}
