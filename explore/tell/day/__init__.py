"""A day of one design, told: words of terminal and page, the table of its minutes, its page."""
