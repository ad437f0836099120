"""`python -m diagnose`: the command `diagnose`, also where its script is not on the path."""

import sys

from diagnose.front.main import main

if __name__ == "__main__":
    sys.exit(main())
