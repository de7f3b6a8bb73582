"""What a notebook calls: designs as dicts or frames, results that show themselves, sweeps, and searches with their page."""
