"""Screws on the back wall of a slotted guide."""
