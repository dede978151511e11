"""How long the probe must be: a few full-wave runs, each chosen by a model that learns from those before."""
