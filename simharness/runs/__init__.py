"""Runs: from a request to a finished folder or an error, and the store of such folders."""
