"""Numerical methods that know nothing of electromagnetics."""
