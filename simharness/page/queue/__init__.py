"""The view of long works: what they will take, how far they are, what came out."""
