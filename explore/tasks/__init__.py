"""What a command does: one task each, composed, checked, run, written."""
