"""`python -m plantcare`: the service on one machine, with or without servers of one's own."""

import sys

from plantcare.standalone.command import main

if __name__ == "__main__":
    sys.exit(main())
