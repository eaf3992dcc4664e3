"""`python -m checklist_tui` is the same as the command `checklist-tui`."""

import sys

from checklist_tui.cli import main

sys.exit(main())
