"""`python -m labkit` is `labkit`."""

import sys

from labkit.cli import main

if __name__ == "__main__":
    sys.exit(main())
