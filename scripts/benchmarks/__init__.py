"""The tool against a plain model of the same antenna on the same solver; see `run`."""
