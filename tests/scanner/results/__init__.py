"""Tests of what results mean."""
