"""From a solver's raw records to results: settling, scattering parameters, far field, losses, and their
file."""
