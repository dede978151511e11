"""The flat parts of an antenna, as they are cut."""
