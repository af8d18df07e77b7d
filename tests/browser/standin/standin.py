"""A room with the smallest panel: it says which kernel made it, and fails while a file `broken` is there."""

import os
from pathlib import Path

import ipywidgets
import numpy


class StandInPanel(ipywidgets.HTML):
    def __init__(self):
        if Path("broken").exists():
            raise RuntimeError("the stand-in is broken")
        super().__init__(f"live in kernel {os.getpid()}, numpy from {Path(numpy.__file__).parent.name}")
        self.add_class("labkit-panel")
