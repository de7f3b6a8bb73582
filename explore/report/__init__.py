"""Turns a run folder into one self-contained page; reads result files, never models."""
