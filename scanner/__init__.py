"""Reads the filled sheets back, scores them and explains what the scores mean."""
