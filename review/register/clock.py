"""What time it is; one place, so that everything that asks agrees."""

from __future__ import annotations

from datetime import datetime


def now() -> datetime:
    """This moment, in the zone of the machine, so that its date is the one on the wall."""
    return datetime.now().astimezone()
