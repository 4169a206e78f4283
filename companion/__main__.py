"""``python -m companion`` is the command ``companion``."""

import sys

from companion.cli import main

sys.exit(main())
