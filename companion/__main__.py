"""``python -m companion`` is the command ``companion``."""

import sys

from companion.start import main

sys.exit(main())
