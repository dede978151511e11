"""From a scene to mesh lines and cells: how fine, where metal seems to end on a lattice, what staircases cost."""
