"""What a change does to an antenna, at once: predicted within milliseconds, exact within a second."""
