"""`python -m checklist_tui` is the same as the command `checklist-tui`."""

import sys

from checklist_tui.cli import main

if __name__ == "__main__":
    sys.exit(main())
