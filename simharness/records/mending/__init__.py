"""What is added to a guide that is already cut: tape over the ends of slots, plates inside the ends."""
