"""Waves in rectangular guides, round tubes and coax lines."""
