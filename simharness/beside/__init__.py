"""Two or three things set over each other: records by their estimates, stored runs, measurements."""
