"""``python -m wbplan`` is the command line."""

import sys

from wbplan.front.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
