"""A bundle made on this checkout, verified with a rerun from a new virtual environment in another folder.

python -m tests.share.elsewhere           the packages of this environment, labkit from a wheel of its own
python -m tests.share.elsewhere --fresh   every package installed anew, as a stranger does

Ends with 1 where the check finds anything.
"""

import argparse
import os
import subprocess
import sys
import sysconfig
import tempfile
import venv
from pathlib import Path

from labkit.assets import assets
from labkit.book import TrialBook, take_in_lines
from labkit.share import bundle

ROOT = Path(__file__).resolve().parents[2]


def run(*words: str | Path, folder: Path) -> None:
    """Run a command elsewhere: no module of this checkout is in reach of it."""
    kept = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "LABKIT_BOOK")}
    subprocess.run([str(each) for each in words], cwd=folder, env=kept, check=True)


def environment(folder: Path, fresh: bool) -> Path:
    """Make a new environment with labkit from a wheel, and return its Python."""
    home = folder / "environment"
    venv.create(home, with_pip=fresh)
    python = next(
        each for each in (home / "bin" / "python", home / "Scripts" / "python.exe") if each.exists()
    )
    if fresh:
        run(python, "-m", "pip", "install", "--quiet", ROOT, "nbclient", folder=folder)
        return python
    code = "import sysconfig; print(sysconfig.get_path('purelib'))"
    site = Path(subprocess.check_output([str(python), "-c", code], text=True).strip())
    pip = (sys.executable, "-m", "pip")
    wheel = (*pip, "wheel", "--quiet", "--no-deps", "--no-build-isolation")
    run(*wheel, "--wheel-dir", folder / "wheel", ROOT, folder=folder)
    made = next((folder / "wheel").glob("*.whl"))
    run(*pip, "install", "--quiet", "--no-deps", "--target", site, made, folder=folder)
    (site / "packages-of-the-checkout.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return python


def handed_on(folder: Path) -> Path:
    """Make the bundle: the invented examples, and the template notebooks with their results."""
    file = folder / "handed-on.zip"
    with TrialBook(folder / "lab-book.db") as book:
        for lines in assets().demo:
            take_in_lines(book, lines)
        bundle(book, book.trials(), assets().notebooks, file)
    return file


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--fresh", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="labkit-here-") as here:
        file = handed_on(Path(here))
        with tempfile.TemporaryDirectory(prefix="labkit-elsewhere-") as there:
            python = environment(Path(there), asked.fresh)
            where = "import labkit; print(labkit.__file__)"
            run(python, "-c", where, folder=Path(there))
            run(python, "-m", "labkit", "verify", file, "--rerun", folder=Path(there))


if __name__ == "__main__":
    main()
