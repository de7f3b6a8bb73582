"""The components of the plant, one a file: pure functions on arrays, SI and kelvin."""
