"""How exact each dimension must be, and what share of the antennas built meets the target."""
