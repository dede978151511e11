"""Where the lengths of a probe usually lie."""

from __future__ import annotations

BACK = (0.06, 0.30)
"""Range of the back short in guide wavelengths: at a quarter the probe is at the peak of the field."""
EASY_HEIGHT = (0.125, 0.275)
"""Usual range of the height of a straight probe in free-space wavelengths (common practice: near 3/16)."""
