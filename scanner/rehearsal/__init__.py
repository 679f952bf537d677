"""The simulated hand and camera, shared by samples, tests and benchmarks."""
