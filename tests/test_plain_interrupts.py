"""Ctrl-C that comes within a compiled function."""

import pytest

from nestlib.interrupts import plain_interrupts


def test_a_system_error_caused_by_ctrl_c_is_an_interrupt() -> None:
    """Python wraps the interrupt; what comes out is the interrupt itself."""
    with pytest.raises(KeyboardInterrupt), plain_interrupts():
        raise SystemError("a result with an exception set") from KeyboardInterrupt()


def test_other_system_errors_stay_what_they_are() -> None:
    """Only those that Ctrl-C caused are changed."""
    with pytest.raises(SystemError, match="something else"), plain_interrupts():
        raise SystemError("something else")
