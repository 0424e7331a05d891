package main

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// The complaints of the libraries that read flags, which give them as text alone.
var (
	missingFlags   = regexp.MustCompile(`^required flag\(s\) (.+) not set$`)
	wantedTogether = regexp.MustCompile(`^if any flags in the group \[(.+)\] are set they must all be set; missing \[(.+)\]$`)
	wantedOne      = regexp.MustCompile(`^at least one of the flags in the group \[(.+)\] is required$`)
	wantedApart    = regexp.MustCompile(`^if any flags in the group \[.+\] are set none of the others can be; \[(.+)\] were all set$`)
)

// inPlainWords says what is wrong with the flags of a command line as this program does
// of everything else. What it does not know stays.
func inPlainWords(cmd *cobra.Command, err error) error {
	text := err.Error()
	say := func(format string, args ...any) error {
		return withHint(misuse(format, args...), "see %s --help", cmd.CommandPath())
	}
	if m := missingFlags.FindStringSubmatch(text); m != nil {
		return say("%s: not given", dashed(strings.ReplaceAll(m[1], `", "`, " "), " and "))
	}
	if m := wantedTogether.FindStringSubmatch(text); m != nil {
		return say("%s go together: %s not given", dashed(m[1], " and "), dashed(m[2], " and "))
	}
	if m := wantedOne.FindStringSubmatch(text); m != nil {
		return say("want %s", dashed(m[1], " or "))
	}
	if m := wantedApart.FindStringSubmatch(text); m != nil {
		return say("%s at once: give one of them", dashed(m[1], " and "))
	}
	return err
}

// dashed lists flags as they are typed.
func dashed(names, last string) string {
	list := strings.Fields(strings.ReplaceAll(names, `"`, ""))
	for i := range list {
		list[i] = "--" + list[i]
	}
	if n := len(list) - 1; n > 0 {
		return strings.Join(list[:n], ", ") + last + list[n]
	}
	return strings.Join(list, "")
}

// badValue says what a flag wants in place of what was typed.
func badValue(err error) error {
	e, ok := errors.AsType[*pflag.InvalidValueError](err)
	if !ok {
		return err
	}
	want := ""
	switch e.GetFlag().Value.Type() {
	case "float64":
		want = "a number"
	case "int", "int64":
		want = "a whole number"
	case "bool":
		want = "true, false or nothing behind it"
	default:
		return err
	}
	if strings.Contains(e.GetValue(), ",") {
		want += ", with a point for the decimals"
	}
	if unit, _ := pflag.UnquoteUsage(e.GetFlag()); unit != "" && want == "a number" && !strings.Contains(unit, " ") && unit != "float" {
		want = "a number of " + unit
	}
	return fmt.Errorf("--%s %q: want %s", e.GetFlag().Name, e.GetValue(), want)
}
