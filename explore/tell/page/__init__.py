"""Turns run folders into self-contained pages; reads result files, never models."""

from explore.tell.page.comparison import write_comparison
from explore.tell.page.lessons import taught
from explore.tell.page.page import write_page

__all__ = ["taught", "write_comparison", "write_page"]
