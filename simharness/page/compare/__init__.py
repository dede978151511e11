"""Things side by side on the page: stored runs, records and measured files over each other."""
