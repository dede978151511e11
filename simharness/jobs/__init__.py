"""A queue of long works beside the stored runs, which outlives whoever asked for them."""
