"""``python -m wbplan`` is the command line."""

import sys

from wbplan.front.cli.main import run_process

if __name__ == "__main__":
    sys.exit(run_process())
