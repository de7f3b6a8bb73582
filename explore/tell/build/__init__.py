"""The build sheet: one page to print, and the files beside it."""
