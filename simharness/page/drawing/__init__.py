"""A drawing of front, side and end of the antenna, true to scale, whose dimensions can be grabbed."""
