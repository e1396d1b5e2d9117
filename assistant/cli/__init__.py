"""The command line: one file per command group; no sums, no rules."""
