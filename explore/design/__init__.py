"""Design variables: their only list, the space they span, and designs as arrays."""
