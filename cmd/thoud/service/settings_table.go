package service

import (
	"fmt"
	"reflect"
	"strings"
)

// SettingRow is one key of the settings, for people.
type SettingRow struct {
	Key     string // with its table, "monitor.listen"
	Default string // as it would be written; "" where the key is left out
	Words   string
}

// settingWords say what each key is for; a test asks for a row a key.
func settingWords() map[string]string {
	return map[string]string{
		"bench":             "the bench's name; it is in every entry, and a ledger belongs to it for ever",
		"lockout":           "for how long after a reading a gauge's own key is ignored",
		"keys":              "a table: what the key of a pedal or a gauge does, as `pedal = \"take\"`",
		"backup":            "a folder, best on another disk: a checked copy is put there after each day of work, fourteen are kept",
		"monitor.listen":    "where the pages are; an address that other machines reach wants `work_code`",
		"monitor.hosts":     "a list: names the page may be asked for by, besides its address and localhost",
		"monitor.work_code": "hash of the code for those who work, made by `thoud code`",
		"monitor.look_code": "hash of the code for those who only look",
		"monitor.tls_cert":  "file of the certificate; with `tls_key` it turns TLS on",
		"monitor.tls_key":   "file of the certificate's key",
		"monitor.pedal":     "the key that a pedal types into the browser, as the browser names it",
		"monitor.metrics":   "`\"open\"` lets other machines ask for /metrics and /healthz",
	}
}

// hubSettingWords say the same of a hub's keys.
func hubSettingWords() map[string]string {
	return map[string]string{
		"name":              "the hub's name; it is in the invitations, and under the notes that it signs",
		"listen":            "where benches link to",
		"address":           "a list: HOST:PORT where benches find the hub, for invitations; else this machine's name",
		"poll":              "how often a bench is asked that says nothing, `\"100ms\"` to `\"1m\"`",
		"tls_cert":          "file of the certificate for the links; else the hub makes its own authority",
		"tls_key":           "file of that certificate's key",
		"backup":            "a folder, best on another disk: a checked copy is put there after each day of work, fourteen are kept",
		"nats.url":          "a list: servers of others that carry the links in place of the hub's own",
		"nats.seed":         "file of the private nkey that the hub logs in there with",
		"nats.creds":        "or file of credentials",
		"nats.ca":           "file of the authority of those servers' certificates",
		"monitor.listen":    "where the pages are; an address that other machines reach wants `look_code`",
		"monitor.hosts":     "a list: names the pages may be asked for by, besides their address and localhost",
		"monitor.look_code": "hash of the code for all benches, made by `thoud code`",
		"monitor.codes":     "a table: hashes of codes for one bench each, as `window = \"…\"`",
		"monitor.tls_cert":  "file of the pages' certificate; with `tls_key` it turns TLS on",
		"monitor.tls_key":   "file of that certificate's key",
	}
}

// SettingsTable lists every key of a bench's settings with its default.
func SettingsTable() []SettingRow { return settingsTable(DefaultSettings(), settingWords()) }

// HubSettingsTable lists every key of a hub's settings with its default.
func HubSettingsTable() []SettingRow { return settingsTable(DefaultHubSettings(), hubSettingWords()) }

func settingsTable(defaults any, words map[string]string) []SettingRow {
	var out []SettingRow
	var walk func(v reflect.Value, prefix string)
	walk = func(v reflect.Value, prefix string) {
		for i := range v.NumField() {
			key, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("toml"), ",")
			f := v.Field(i)
			if f.Kind() == reflect.Struct {
				walk(f, prefix+key+".")
				continue
			}
			row := SettingRow{Key: prefix + key, Words: words[prefix+key]}
			if f.Kind() == reflect.String && f.Len() > 0 {
				row.Default = fmt.Sprintf("%q", f.String())
			}
			out = append(out, row)
		}
	}
	walk(reflect.ValueOf(defaults), "")
	return out
}
