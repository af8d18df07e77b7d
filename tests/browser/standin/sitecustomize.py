"""On a kernel's path: lets stand-ins be imported as if they were more rooms of the package."""

import importlib.util
import sys
from pathlib import Path

ROOMS = {"labkit.standin": "standin.py", "labkit.formroom": "formroom.py"}


class StandIn:
    @staticmethod
    def find_spec(name, path=None, target=None):
        if name not in ROOMS:
            return None
        return importlib.util.spec_from_file_location(name, Path(__file__).with_name(ROOMS[name]))


sys.meta_path.append(StandIn)
