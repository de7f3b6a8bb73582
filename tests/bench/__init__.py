"""Tests of what a builder makes of a design."""
