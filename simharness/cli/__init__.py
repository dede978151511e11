"""The command line: a thin skin over the package, one module for each command."""
