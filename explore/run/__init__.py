"""The run folder: what it holds, how it is written and read."""
