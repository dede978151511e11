"""A measurement beside a run; runs, records and measurements side by side."""

from simharness.library.comparing.beside import SideBySide, side_by_side
from simharness.library.comparing.measured import LevelComparison, ReflectionComparison, compare

__all__ = ["LevelComparison", "ReflectionComparison", "SideBySide", "compare", "side_by_side"]
