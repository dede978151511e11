"""The finished antenna on the page: what was read on it, what it does, what can still be done."""
