"""Form designs, lexicons, printed words and fonts, as data."""
