"""What the place of an antenna does to it: its tilt, what stands behind it, a second one beside it."""
