"""Turns a run folder into one self-contained page; reads result files, never models."""

from explore.report.page import write_page

__all__ = ["write_page"]
