"""How surely the full-wave figures are known: one record on refined meshes."""
