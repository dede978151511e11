"""What is drawn and dimensioned of a flat part."""
