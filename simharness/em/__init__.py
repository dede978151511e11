"""Electromagnetic kernels: pure functions of numbers and arrays, no files, no clock, no printing."""
