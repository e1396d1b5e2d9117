"""The pure core: it knows no clock, file, port, thread or dice; what it needs of them comes in as an input."""
