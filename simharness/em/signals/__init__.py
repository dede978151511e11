"""Signals at a port: spectra, ringing, matches, reference planes."""
