"""What the place of an antenna does to it: how it is tilted, what stands behind it, a second one beside it."""
