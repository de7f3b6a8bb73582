"""What a reader is told: terminal, sheet and page."""
