"""What to change after a run, computed by the calibrated estimate."""
