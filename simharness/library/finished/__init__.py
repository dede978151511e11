"""A finished antenna: what it does, and what can still be done with it."""

from simharness.library.finished.built import BuiltResult, as_built, readings_form
from simharness.library.finished.mended import MendResult, mend

__all__ = ["BuiltResult", "MendResult", "as_built", "mend", "readings_form"]
