"""A radio link with the antenna, and the limits on what it may radiate."""
