"""What a bench log says of the coefficients: in the terminal, and as a page."""
