"""Makes the pictures of the pages that are mailed in ``demo/pictures/``: made by the commands, opened in Chromium.

``.venv/bin/python demo/mailed_pictures.py`` after ``tests/run`` has set everything up.
"""

from __future__ import annotations

import io
import os
import sys
import tempfile
from pathlib import Path

_TOP = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(_TOP / "tests"), str(_TOP)]
os.environ["PYTHONPATH"] = str(_TOP)

from PIL import Image  # noqa: E402 -- the students who play lie with the tests

from main_job.chromium import chromium  # noqa: E402
from main_job.mailed_pages import TIMED, made, read_from_disk, save  # noqa: E402
from sounds.students import FAULTY, TEACHER, played_by  # noqa: E402

FOLDER = _TOP / "demo" / "pictures"
#: A picture has few colours, and as few keep it small.
_COLOURS = 64


def main() -> None:
    """Make them all."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name, chromium() as browser:
        folder = Path(name)
        teacher = save(folder / "teacher.wav", played_by(TEACHER))
        student = save(folder / "student.wav", played_by(FAULTY["deep"]))
        pages = {
            "compare": made("compare", teacher, student, *TIMED, out=folder / "compare.html"),
            "explain": made("explain", "--harp", "A", out=folder / "explain.html"),
        }
        for page_name, path in pages.items():
            for width, height, look in ((1024, 768, "dark"), (1024, 768, "light"), (390, 844, "light")):
                with read_from_disk(browser, path, width, height, "dark" if look == "dark" else "light") as page:
                    whole = Image.open(io.BytesIO(page.screenshot(full_page=width < height))).convert("RGB")
                picture = whole.quantize(_COLOURS, dither=Image.Dither.NONE)
                picture.save(FOLDER / f"{page_name}-{width}x{height}-{look}.png", optimize=True)


if __name__ == "__main__":
    main()
