package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog/store"
)

// developed is the version that is being worked on: that of a build which is no release.
const developed = "0.1.0-dev"

// What a release says of itself, set where it is linked (see .ci/release): its version, from
// the tag, and the commit with its time.
var releaseVersion, releaseCommit, releaseTime string

// build is what is known of how this program came about.
//
//	Version   of a release its tag; else the version worked on, with the commit if known
//	Commit    the whole id; Changed says that files were changed since
//	Time      of the commit, UTC
//	Release   made by the script for releases
type build struct {
	Version  string `json:"version"`
	Commit   string `json:"commit"`
	Changed  bool   `json:"changed_since"`
	Time     string `json:"commit_utc"`
	Release  bool   `json:"release"`
	Platform string `json:"platform"`
	SQLite   string `json:"sqlite"`
	Go       string `json:"go"`
}

// thisBuild looks up how this program was built.
func thisBuild() build {
	b := build{Version: releaseVersion, Commit: releaseCommit, Time: releaseTime, Release: releaseVersion != "",
		Platform: runtime.GOOS + "/" + runtime.GOARCH, SQLite: store.SQLiteVersion(), Go: runtime.Version()}
	if b.Release {
		return b
	}
	b.Version = developed
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Commit = s.Value
		case "vcs.time":
			b.Time = s.Value
		case "vcs.modified":
			b.Changed = s.Value == "true"
		}
	}
	if b.Commit != "" {
		b.Version += "+" + b.Commit[:min(12, len(b.Commit))]
	}
	if b.Changed {
		b.Version += ".changed"
	}
	return b
}

// programName is the program with its version, as every file that it writes names it.
func programName() string { return "limbwatch " + thisBuild().Version }

func newVersionCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Tell which version this is, and what it was built from",
		Long: `Version tells version, commit and build, and the SQLite and the Go in it. Charts,
reports and exports name the version that wrote them; CSV has no place for it.`,
		Example: "  limbwatch version --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asJSON {
				return printJSON(cmd.OutOrStdout(), thisBuild())
			}
			return printBuild(cmd.OutOrStdout(), thisBuild())
		},
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printBuild(w io.Writer, b build) error {
	commit, kind := "not known", "not a release"
	if b.Commit != "" {
		commit = strings.TrimSpace(b.Commit + " " + b.Time)
	}
	if b.Changed {
		commit += ", with changes"
	}
	if b.Release {
		kind = "release"
	}
	_, err := fmt.Fprintf(w, "limbwatch %s\n  commit  %s\n  build   %s, %s\n  SQLite  %s\n  Go      %s\n",
		b.Version, commit, kind, b.Platform, b.SQLite, b.Go)
	return err
}
