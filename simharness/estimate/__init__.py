"""The analytic estimate of a record, and fast models made from it."""
