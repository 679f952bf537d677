"""Designs a tasting kit and prints it; knows nothing of images."""
