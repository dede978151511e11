"""The structure that the solver is given, as plain data, and how each port and shape of guide enters it."""
