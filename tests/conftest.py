"""Lets tests import the helper modules that stand beside them; import mode `importlib` does not."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
