"""Slots in a guide wall, by closed forms and by the method of moments."""
