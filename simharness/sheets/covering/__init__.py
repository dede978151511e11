"""What lies on the walls of the guide: the sheet over its slots, and tape over their ends."""
