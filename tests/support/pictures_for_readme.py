"""Makes the picture at the top of README: how the report of the bundled study begins.

`python -m tests.support.pictures_for_readme` runs studies/lane-workshop.yaml as README's first
command does, opens the page in headless Chromium, 1200 pixels wide and light, and writes what
stands from its top to the lower edge of the chart to shared/report.png. With a run folder behind
it, it takes that run. Make the picture anew whenever the page or its numbers change.
"""

import base64
import sys
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

from engine.run.folder import REPORT, write_text
from engine.run.launch import run_study
from reports.run.make import report_of_run
from tests.support.browser import Page
from tests.support.places import PICTURE, STUDIES

WIDTH = 1200
END = "document.querySelector('#front-chart').getBoundingClientRect().bottom"


def main() -> None:
    with TemporaryDirectory() as scratch:
        if len(sys.argv) > 1:
            report = Path(sys.argv[1]) / REPORT
        else:
            folder = run_study(STUDIES / "lane-workshop.yaml", Path(scratch, "run")).folder
            report = write_text(folder, REPORT, report_of_run(folder))
        PICTURE.write_bytes(_few_colours(_opening(report.resolve(), Path(scratch, "profile"))))


def _opening(report: Path, profile: Path) -> bytes:
    """The page from its top to the lower edge of the chart, as PNG."""
    page = Page(profile)
    try:
        page.open(report, width=WIDTH)
        clip = {"x": 0, "y": 0, "width": WIDTH, "height": page.ask(END), "scale": 1}
        shot = page.call(
            "Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip
        )
    finally:
        page.close()
    return base64.b64decode(shot["data"])


def _few_colours(png: bytes) -> bytes:
    """The same picture in 256 colours: a third of the size, and looks the same."""
    written = BytesIO()
    with Image.open(BytesIO(png)) as image:
        # The other methods of this library darken a colour that covers few points.
        few = image.convert("RGB").quantize(
            method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
        )
        few.save(written, "PNG", optimize=True)
    return written.getvalue()


if __name__ == "__main__":
    main()
