"""How exact each dimension must be, and how many antennas of a number will do."""
