"""Numerical methods, independent of electromagnetics."""
