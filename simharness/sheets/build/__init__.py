"""The build list: what to buy, mark, cut and join, and in what order."""
