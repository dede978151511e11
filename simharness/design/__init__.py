"""From a frequency and the metal at hand to a complete record, with its reasons."""
