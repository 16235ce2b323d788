package service

import (
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"sync"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// listenAgain is how long the service waits before it tries a taken address once more.
const listenAgain = 5 * time.Second

// monitorSource names the monitor's troubles.
const monitorSource = "monitor"

// serveMonitor shows the pages until ctx ends. An address that is taken keeps nobody from measuring: the bench runs, the
// trouble is told where it can be (log, status, checkup), and the address is tried again. Settings that can never work
// are an error.
func (s *Service) serveMonitor(ctx context.Context, d *liveFeed, b *bus.Server, ledger *store.Store, known *profileList, signs *notes) error {
	ready := sync.OnceFunc(func() {
		if s.Ready != nil {
			s.Ready(nil)
		}
	})
	for {
		m, err := monitor.New(s.monitorConfig(d, b, ledger, known, signs))
		if err != nil {
			return err
		}
		d.metrics.watch(m.Viewers)
		err = m.Serve(ctx, func(a net.Addr) {
			s.Log.Info().Str("address", s.scheme()+"://"+a.String()).Msg("monitor")
			d.onNotice(s.unsafeNotice(a))
			if s.Ready != nil {
				ready = sync.OnceFunc(func() { s.Ready(a) })
			}
			ready()
		})
		var op *net.OpError
		if ctx.Err() != nil || !errors.As(err, &op) || op.Op != "listen" {
			return err
		}
		m.Close()
		s.Log.Error().Err(err).Msg("no monitor; tried again")
		d.onNotice(bench.Notice{At: time.Now().UnixMicro(), Source: monitorSource, Stands: true, Tone: "fault",
			Words: fmt.Sprintf("the pages cannot be shown: %v. The bench goes on; the address is tried again every %s", err, listenAgain)})
		ready()
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(listenAgain):
		}
	}
}

func (s *Service) monitorConfig(d *liveFeed, b *bus.Server, ledger *store.Store, known *profileList, signs *notes) monitor.Config {
	return monitor.Config{
		Bench: d, Watched: s.watched(d, b), Archive: archive{ledger, s.Settings.Bench}, Sheets: newSheets(ledger, s.Settings.Bench, signs.make), Finder: finder{known}, Teacher: teacher{filepath.Join(s.Dir, ProfilesFolder), known},
		Keeper: keeper{ledger, s.Settings.Bench, s.Dir, signs.make}, Foresight: foresight{d.Scene, archive{ledger, s.Settings.Bench}}, Guide: guideTexts{}, Aim: pipeline.Aim, Histories: histories{ledger, s.Settings.Bench, func() (bench.State, bench.Results) { return d.State(), d.Results() }}, Plans: plans{s.Dir}, Listen: s.Listen, Sessions: filepath.Join(s.Dir, sessionsName),
		WorkCode: s.Settings.Monitor.WorkCode, LookCode: s.Settings.Monitor.LookCode, Hosts: s.Settings.Monitor.Hosts,
		CertFile: s.Settings.Monitor.TLSCert, KeyFile: s.Settings.Monitor.TLSKey, Pedal: s.Settings.Monitor.Pedal, Logger: s.Log,
	}
}

func (s *Service) scheme() string {
	if s.Settings.Monitor.TLSCert != "" {
		return "https"
	}
	return "http"
}

// unsafeNotice warns of pages that other machines reach and that are not encrypted; where that is not so it ends the
// warning, and an earlier trouble of the monitor.
func (s *Service) unsafeNotice(a net.Addr) bench.Notice {
	n := bench.Notice{At: time.Now().UnixMicro(), Source: monitorSource}
	tcp, ok := a.(*net.TCPAddr)
	if ok && !tcp.IP.IsLoopback() && s.Settings.Monitor.TLSCert == "" {
		n.Stands = true
		n.Words = fmt.Sprintf("other machines reach the pages at %s without TLS: codes and pages can be read on the way. Set tls_cert and tls_key in %s, or listen on %s", a, SettingsName, monitor.DefaultListen)
		s.Log.Warn().Msg(n.Words)
	}
	return n
}
