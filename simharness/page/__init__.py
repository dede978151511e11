"""The page on the builder's own machine: a record changed, computed and compared in a browser."""
