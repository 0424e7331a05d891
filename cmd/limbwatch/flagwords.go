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
	case "stringSlice":
		return fmt.Errorf("--%s %q: want one line, apart by commas as in a CSV file: "+
			`what has a comma or a quotation mark in it stands between quotation marks, with its own written twice, as "the 13"" one, west"`,
			e.GetFlag().Name, e.GetValue())
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

// readOnOneLine lets the flags that take a list refuse more lines than one, of which they
// would read the first and be silent about the rest.
func readOnOneLine(cmd *cobra.Command) {
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if list, ok := f.Value.(pflag.SliceValue); ok && f.Value.Type() == "stringSlice" {
			f.Value = oneLine{f.Value, list}
		}
	})
	for _, sub := range cmd.Commands() {
		readOnOneLine(sub)
	}
}

// oneLine is a list that is given on one line.
type oneLine struct {
	pflag.Value
	pflag.SliceValue
}

// Set reads what was typed.
func (l oneLine) Set(text string) error {
	if strings.ContainsAny(text, "\r\n") {
		return errors.New("more than one line")
	}
	return l.Value.Set(text)
}

// takesNothing marks flags for which nothing between quotes says something.
const takesNothing = "limbwatch_takes_nothing"

// mayBeEmpty says of flags that an empty value takes away what was there. Of all others
// it is a slip, as of a script whose variable was never set, and is refused: it must
// not mean the default.
func mayBeEmpty(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		if err := cmd.Flags().SetAnnotation(name, takesNothing, []string{"true"}); err != nil {
			panic(err) // a flag that the command has not
		}
	}
}

// refuseEmpty refuses flags that were typed with nothing behind them.
func refuseEmpty(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if f.Annotations[takesNothing] != nil || err != nil {
			return
		}
		values := []string{f.Value.String()}
		if list, ok := f.Value.(pflag.SliceValue); ok {
			if values = list.GetSlice(); len(values) == 0 {
				values = []string{""}
			}
		}
		for _, v := range values {
			if strings.TrimSpace(v) == "" {
				err = withHint(misuse("--%s %q: there is nothing in it", f.Name, v), "leave the flag out for its default, or see %s --help", cmd.CommandPath())
				return
			}
		}
	})
	return err
}
