"""Turns run folders into self-contained pages; reads result files, never models."""

from explore.tell.page.comparison import write_comparison
from explore.tell.page.page import write_and_teach, write_page

__all__ = ["write_and_teach", "write_comparison", "write_page"]
