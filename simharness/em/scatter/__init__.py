"""Slots on a tube with other long metal bodies beside it."""
