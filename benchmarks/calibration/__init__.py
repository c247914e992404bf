"""Measure whether regions hold what they promise: `make calibrate`."""
