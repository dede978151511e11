"""What follows from a record before anything is run, and what is likely to go wrong."""
