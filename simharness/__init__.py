"""From a design record of a slotted waveguide antenna to a full-wave verdict."""

__version__ = "0.1.0"
