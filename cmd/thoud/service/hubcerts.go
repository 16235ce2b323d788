package service

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"time"
)

// A hub that is given no certificate is its own authority: it makes one at its first start, and each invitation carries it,
// so that a bench believes that hub and nobody else, whatever the machine trusts. The hub's certificate is made anew at each
// start and names no address: the hub may move.
const (
	authorityName = "authority.pem" // certificate and private key
	hubServerName = "thoud-hub"     // in every such certificate

	authorityYears   = 20
	certificateYears = 2
)

// ownAuthority gives the authority's certificate, made where there is none.
func ownAuthority(dir, hubName string) (string, error) {
	cert, _, err := readAuthority(dir, hubName)
	if err != nil {
		return "", err
	}
	return string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Raw})), nil
}

func readAuthority(dir, hubName string) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	path := filepath.Join(dir, authorityName)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if err := makeAuthority(path, hubName); err != nil {
			return nil, nil, fmt.Errorf("the hub's authority: %w", err)
		}
		b, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, nil, err
	}
	pair, err := tls.X509KeyPair(b, b)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w; with another authority every bench must be invited anew", path, err)
	}
	key, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
	if !ok {
		return nil, nil, fmt.Errorf("%s: its key is of another kind than the hub makes", path)
	}
	return pair.Leaf, key, nil
}

func makeAuthority(path, hubName string) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	now := time.Now()
	t := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "thoud hub " + hubName}, NotBefore: now.Add(-24 * time.Hour),
		NotAfter: now.AddDate(authorityYears, 0, 0), IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	text, err := certificate(t, t, key, key)
	if err != nil {
		return err
	}
	return writeSafely(path, text)
}

// certificate makes a certificate, with its key, in PEM.
func certificate(t, parent *x509.Certificate, key, by *ecdsa.PrivateKey) ([]byte, error) {
	der, err := x509.CreateCertificate(rand.Reader, t, parent, &key.PublicKey, by)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	return append(text, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})...), nil
}

// hubTLS is what the hub shows to benches: its given certificate, else one of its own authority.
func hubTLS(dir string, c HubSettings) (*tls.Config, error) {
	if c.TLSCert != "" {
		pair, err := tls.LoadX509KeyPair(c.TLSCert, c.TLSKey)
		if err != nil {
			return nil, fmt.Errorf("tls_cert and tls_key in %s: %w", HubSettingsName, err)
		}
		return &tls.Config{MinVersion: tls.VersionTLS13, Certificates: []tls.Certificate{pair}}, nil
	}
	ca, by, err := readAuthority(dir, c.Name)
	if err != nil {
		return nil, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	now := time.Now()
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, err
	}
	text, err := certificate(&x509.Certificate{SerialNumber: serial, Subject: pkix.Name{CommonName: hubServerName}, DNSNames: []string{hubServerName},
		NotBefore: now.Add(-24 * time.Hour), NotAfter: now.AddDate(certificateYears, 0, 0), KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}, ca, key, by)
	if err != nil {
		return nil, err
	}
	pair, err := tls.X509KeyPair(text, text)
	if err != nil {
		return nil, err
	}
	return &tls.Config{MinVersion: tls.VersionTLS13, Certificates: []tls.Certificate{pair}}, nil
}
