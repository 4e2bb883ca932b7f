"""Make the README's pictures anew from the demo shop: two pages in a browser and one page for the customer.

    .venv/bin/python tests/make_pictures.py

The folder is ``ui/pictures``; a picture has few colours, so that the repository stays small.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "support")]

import pypdfium2  # noqa: E402
from page_server import pages, settle  # noqa: E402
from real_browser import browser  # noqa: E402

from graph.store import open_database  # noqa: E402
from ingest.book import read_book, store_book  # noqa: E402

FOLDER = ROOT / "ui" / "pictures"
#: Name of the picture -> address of the page.
SHOTS = {
    "ladder": "/plan?car=car-a&power=340&boost=2.2",
    "arrival": "/arrival?car=car-b&shows=rail-low-at-torque-peak,tank-duty-spare,oil-level-up,long-crank",
}
SIZE = {"width": 1250, "height": 1000}
COLOURS = 64
CUSTOMER = ("explain", "car-a", "--power", "305 kW", "--boost", "2.2 bar", "--patience", "600")


def keep(picture: Image.Image, name: str) -> None:
    """Write a picture with few colours."""
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / f"{name}.png"
    picture.convert("RGB").quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(
        path, optimize=True
    )
    print(f"{path.relative_to(ROOT)}: {picture.width} x {picture.height}, {path.stat().st_size // 1024} kB")


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        url = f"sqlite:///{folder / 'shop.sqlite'}"
        store_book(open_database(url), read_book([ROOT / "seed_parts"]), who="demo", version="0")
        with pages(url, folder) as address, browser() as opened:
            page = opened.new_page(viewport=SIZE)
            for name, path in SHOTS.items():
                page.goto(address + path)
                settle(page)
                page.screenshot(path=folder / f"{name}.png")
                keep(Image.open(folder / f"{name}.png"), name)
        printed = folder / "customer.pdf"
        command = [sys.executable, "-m", "ui.cli", "--db", url, *CUSTOMER, "--out", str(printed)]
        subprocess.run(command, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
        keep(pypdfium2.PdfDocument(printed)[0].render(scale=1.4).to_pil(), "customer-page")


if __name__ == "__main__":
    main()
