"""The field solver behind one door: its input, its process, its transcript, its files."""
