package monitor_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/pipeline/monitor"
)

// ownCertificate writes a certificate for this machine and its key, and gives the pool that trusts it.
func ownCertificate(t *testing.T) (certFile, keyFile string, pool *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "bench"}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	certFile, keyFile = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	cert := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	for file, b := range map[string][]byte{certFile: cert, keyFile: pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw})} {
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pool = x509.NewCertPool()
	pool.AppendCertsFromPEM(cert)
	return certFile, keyFile, pool
}

func TestPagesAreServedOverTLS(t *testing.T) {
	certFile, keyFile, pool := ownCertificate(t)
	f := newFakeBench(t)
	f.firstFit()
	m, err := monitor.New(monitor.Config{Bench: f, Listen: "127.0.0.1:0", CertFile: certFile, KeyFile: keyFile})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	addr := make(chan net.Addr, 1)
	ended := make(chan error, 1)
	go func() { ended <- m.Serve(ctx, func(a net.Addr) { addr <- a }) }()
	at := (<-addr).String()
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, DisableKeepAlives: true}}
	res, err := client.Get("https://" + at + "/bench")
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !strings.Contains(string(body), "Guide-block clearance") {
		t.Errorf("over TLS: %s, %v", res.Status, err)
	}
	if res, err := http.Get("http://" + at + "/bench"); err == nil {
		if res.StatusCode == http.StatusOK {
			t.Error("the page is served without TLS too")
		}
		res.Body.Close()
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("closing: %v", err)
	}
	if _, err := monitor.New(monitor.Config{Bench: f, CertFile: certFile}); err == nil {
		t.Error("a certificate without its key is taken")
	}
}
