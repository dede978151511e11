"""Sweeps: fields of a record over ranges of values, every point an ordinary stored run."""
