"""The linter, the formatter and the type checker find nothing."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize(
    "check",
    [("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",)],
    ids=" ".join,
)
def test_it_is_clean(check):
    done = subprocess.run([sys.executable, "-m", *check], cwd=ROOT, capture_output=True, encoding="utf-8")
    assert done.returncode == 0, done.stdout + done.stderr
