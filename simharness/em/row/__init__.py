"""Rows of slots on a standing or a travelling wave: their response and their synthesis."""
