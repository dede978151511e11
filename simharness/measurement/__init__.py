"""What was measured on the built antenna, beside what was computed, and why they differ."""
