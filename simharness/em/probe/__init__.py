"""Coax probes, straight and bent, by the method of moments."""
