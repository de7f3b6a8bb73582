"""Reported figures: names, units, labels."""
