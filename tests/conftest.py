"""What all tests need."""

import signal

import pytest


@pytest.fixture(scope="session", autouse=True)
def usual_ctrl_c():
    """Let Ctrl-C raise as usual: a shell's background job starts with it ignored."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
