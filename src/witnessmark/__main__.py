"""`python -m witnessmark` is the command line."""

import sys

from witnessmark.cli.main import main

sys.exit(main())
