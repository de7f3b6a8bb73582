"""Configurations: schema, composition, and refusals in sentences."""
