"""The handbook: pages of Markdown beside the code, and references read off the code, as one file that opens offline."""

from __future__ import annotations

from explore.tell.handbook.book import handbook

__all__ = ["handbook"]
