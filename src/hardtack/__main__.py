"""`python -m hardtack` is the command line."""

import sys

from hardtack.cli import main

sys.exit(main())
