"""``python -m explore`` is the command ``explore``."""

import sys

from explore.cli import main

if __name__ == "__main__":
    sys.exit(main())
