"""Lets rows name the adapters beside them by module."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
