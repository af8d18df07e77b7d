"""How long the door takes to open, beside importing what a notebook would import anyway."""

import subprocess
import sys
import time

import pytest

BESIDE = "import pandas, numpy, ipywidgets"


def seconds(statement):
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", statement], check=True)
    return time.perf_counter() - start


@pytest.mark.parametrize(
    "statement",
    ["import labkit", "from labkit import *", "from labkit.texture import TexturePanel"],
)
def test_importing(benchmark, statement):
    seconds(BESIDE)
    pairs = [(seconds(statement), seconds(BESIDE)) for _ in range(5)]
    ratios = sorted(ours / theirs for ours, theirs in pairs)
    benchmark.extra_info["ratio to pandas + numpy + ipywidgets (median of 5 pairs)"] = round(ratios[2], 2)
    benchmark.pedantic(seconds, (statement,), rounds=3)
