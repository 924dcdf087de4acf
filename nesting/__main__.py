"""``python -m nesting`` is the command ``nesting``."""

import sys

from nesting.cli import main

if __name__ == "__main__":
    sys.exit(main())
