"""Properties of working fluids and of stored water."""
