package main

import (
	"os"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog/store"
)

// words lists what may stand in a place of the command line: some, or what the
// catalogue holds, each with a tab and an explanation behind it.
type words struct {
	some []string
	held func(v *store.View) ([]string, error)
}

func some(list ...string) words { return words{some: list} }

func held(list func(v *store.View) ([]string, error)) words { return words{held: list} }

// argumentWords are the words for the placeholders of a command's usage line.
// What is not here (PICTURE, FILE.csv) is completed with files.
var argumentWords = map[string]words{
	"FRAME":            held(frameWords),
	"MARK":             held(markWords),
	"SITTING":          held(sittingWords),
	"SITE":             held(siteWords),
	"OBSERVER":         held(observerWords),
	"SETUP":            held(setupWords),
	"SETUP|INSTRUMENT": held(setupWords),
	"PASSAGE":          held(passageWords),
	"EARLIER":          held(passageWords),
	"LATER":            held(passageWords),
	"KIND":             some("sunspot", "plage", "filament", "prominence", "other"),
	"DAY":              some(),
	"NAME":             some(),
	"X,Y":              some(),
}

// flagWords are the same for flags, by name.
var flagWords = map[string]words{
	"frame": held(frameWords), "drift": held(frameWords), "reference": held(frameWords),
	"same-as": held(markWords), "marks": held(markWords), "passage": held(passageWords), "accept": held(passageWords),
	"site": held(siteWords), "observer": held(observerWords), "setup": held(setupWords),
	"kind":       some("sunspot", "plage", "filament", "prominence", "other"),
	"looked":     some("sunspot", "plage", "filament", "prominence"),
	"none-seen":  some("sunspot", "plage", "filament", "prominence"),
	"not-looked": some("sunspot", "plage", "filament", "prominence"),
	"role":       some("surface", "limb", "both"),
	"moment":     some("start", "middle", "end"),
	"channel":    some("auto", "luminance", "red", "green", "blue"),
	"limb":       some("photosphere", "chromosphere"),
	"pushed":     some("north", "south"),
	"theme":      some("paper", "day", "night"),
	"up":         some("solar", "celestial", "taken"),
	"paper":      some("A4", "Letter"),
	"prefer":     some("refuse", "mine", "theirs"),
	"formats":    some(reportFormats...),
}

// placeholder is a word of a usage line, without its brackets and dots.
var placeholder = regexp.MustCompile(`[A-Z][A-Z,|]*[A-Z](?:\.csv\|-)?`)

// completeWords gives every command and flag the words that may stand there, for
// the shell to complete.
func (a *app) completeWords(cmd *cobra.Command) {
	for _, sub := range cmd.Commands() {
		a.completeWords(sub)
	}
	for name, known := range flagWords {
		if flag := cmd.Flags().Lookup(name); flag != nil && flag.Value.Type() != "bool" {
			// The error only says that the command itself completes this flag.
			_ = cmd.RegisterFlagCompletionFunc(name, a.completer(known))
		}
	}
	_, usage, _ := strings.Cut(cmd.Use, " ")
	if wanted := placeholder.FindAllString(usage, -1); len(wanted) > 0 && cmd.ValidArgsFunction == nil && len(cmd.ValidArgs) == 0 {
		if _, ok := argumentWords[wanted[0]]; ok {
			cmd.ValidArgsFunction = a.completeArguments(wanted)
		}
	} else if len(wanted) == 0 && !cmd.HasSubCommands() && cmd.ValidArgsFunction == nil {
		cmd.ValidArgsFunction = cobra.NoFileCompletions
	}
}

// completeArguments completes each argument by its place in the usage line; the last place
// holds for all that follow.
func (a *app) completeArguments(wanted []string) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, toComplete string) ([]string, cobra.ShellCompDirective) {
		known := argumentWords[wanted[min(len(args), len(wanted)-1)]]
		return a.completer(known)(cmd, args, toComplete)
	}
}

// completer asks the catalogue for words. It makes no catalogue where there is none.
func (a *app) completer(list words) cobra.CompletionFunc {
	return func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
		if list.held == nil {
			return list.some, cobra.ShellCompDirectiveNoFileComp
		}
		if _, err := os.Stat(a.cataloguePath()); err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		k, err := a.keeper(cmd.Context())
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		found, err := list.held(k.Store.Read(cmd.Context()))
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		return found, cobra.ShellCompDirectiveNoFileComp
	}
}
