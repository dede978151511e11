"""Tuning of the feed: a few full-wave runs, each proposed by a model that is corrected by those before."""
