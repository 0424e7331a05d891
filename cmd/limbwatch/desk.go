package main

import (
	"context"
	"log/slog"

	"github.com/spf13/cobra"

	"limbwatch/catalog/observe"
	"limbwatch/cmd/limbwatch/desk"
)

func newDeskCommand(app *app) *cobra.Command {
	opts := desk.Options{}
	cmd := &cobra.Command{
		Use:   "desk",
		Short: "Open the marking page in the browser",
		Long: `Desk serves the marking page to this machine alone: pictures in, disc and north
checked, features marked, the day's log beside them. It prints an address that
opens once, and opens the browser; Ctrl-C ends it. What was kept stays kept.

` + wrapped(cautions[0], 80),
		Example: "  limbwatch desk\n  limbwatch desk --port 8100 --no-open",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			opts.Out = cmd.OutOrStdout()
			if opts.Port < 0 || opts.Port > 65535 {
				return misuse("--port %d: want 0 to 65535", opts.Port)
			}
			app.tellNew()
			return desk.Run(ctx, opts, desk.Dependencies{
				Keeper: k, Cautions: cautions, Program: programName(), DayBackup: app.dayBackupOf(k),
				Log: slog.New(slog.NewTextHandler(app.stderr, &slog.HandlerOptions{Level: slog.LevelWarn})),
			})
		}),
	}
	cmd.Flags().IntVar(&opts.Port, "port", 0, "`port` on 127.0.0.1 (default: the usual one, or a free one when it is taken)")
	cmd.Flags().BoolVar(&opts.NoOpen, "no-open", false, "print the address, open no browser")
	return cmd
}
