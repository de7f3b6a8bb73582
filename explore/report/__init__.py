"""Turns run folders into self-contained pages; reads result files, never models."""

from explore.report.comparison import write_comparison
from explore.report.page import write_page

__all__ = ["write_comparison", "write_page"]
