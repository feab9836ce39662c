"""Ctrl-C while `nestlib buy` looks for layouts."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from tests.cli.test_buy_command import PRICES
from tests.command import write_job

#: Compiled kernels and a first filling are there long before.
_PATIENCE = 120


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals are sent otherwise there")
def test_the_best_so_far_is_kept(tmp_path):
    """Exit code 3, and a whole folder that says it was stopped."""
    many = ("quantity = 2", "quantity = 90")
    write_job(tmp_path, ("quantity = 1\n\n[[part]]", "\n[[part]]"), many)
    (tmp_path / "prices.toml").write_text(PRICES, encoding="utf-8")
    code = "from nestlib_cli import main; main()"
    command = [sys.executable, "-c", code, "buy", "job.toml", "--prices", "prices.toml"]
    command += ["--iterations", "100000", "--workers", "1", "--out", "order"]
    with subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, text=True) as run:
        began = time.monotonic()
        for line in run.stderr:
            if "improving" in line or time.monotonic() - began > _PATIENCE:
                break
        run.send_signal(signal.SIGINT)
        run.stderr.read()
        assert run.wait(_PATIENCE) == 3
    record = json.loads((tmp_path / "order/buy.json").read_text(encoding="utf-8"))
    assert record["stopped"]
    assert record["metals"][0]["order"]
