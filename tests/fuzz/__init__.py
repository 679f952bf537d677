"""Fuzzing of every door by which something from outside comes in; `python -m tests.fuzz --help` says how."""
