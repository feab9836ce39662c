"""Days as people write them in job files and part lists."""

from __future__ import annotations

import re
from datetime import date, datetime

from nestlib.validation import fault, shown


def day(value: object) -> date:
    """Understand a date of TOML and ``"2030-05-01"``; used by pydantic as a validator."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value.strip()):
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            raise fault(f"{shown(value)} is no day of the calendar") from None
    raise fault(f"{shown(value)} is not a date")
