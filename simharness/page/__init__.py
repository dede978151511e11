"""The page on the builder's own machine: a skin over `simharness.library`, served to this machine only."""
