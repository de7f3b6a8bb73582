"""Tests; each process has one thread: matrices are small, and threads that wait for one another take half a core."""

import os

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):  # read when NumPy is first imported
    os.environ.setdefault(threads, "1")
