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

// SettingsTable lists every key there is with its default.
func SettingsTable() []SettingRow {
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
			row := SettingRow{Key: prefix + key, Words: settingWords()[prefix+key]}
			if f.Kind() == reflect.String && f.Len() > 0 {
				row.Default = fmt.Sprintf("%q", f.String())
			}
			out = append(out, row)
		}
	}
	walk(reflect.ValueOf(DefaultSettings()), "")
	return out
}
