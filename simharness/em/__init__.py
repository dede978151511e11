"""Pure electromagnetics: numpy in, numpy out. No files, no clock, no printing."""
