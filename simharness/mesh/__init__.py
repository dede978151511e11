"""From a scene to mesh lines and cells: how fine, and what makes up for the errors of a coarse mesh."""
