"""``python -m lossfill`` is the command ``lossfill``."""

import sys

from lossfill.cli import main

if __name__ == "__main__":
    sys.exit(main())
