"""Put what the demo prints into the README: python tests/refresh_readme.py."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

README = Path(__file__).resolve().parent.parent / "README.md"
START, END = "first lines -->\n```\n", "\n```\n<!-- end"
ROWS = 9


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        printed = subprocess.run(
            [sys.executable, "-m", "ui.cli", "demo"],
            env={**os.environ, "XDG_DATA_HOME": folder},
            cwd=README.parent,
            capture_output=True,
            text=True,
            check=True,
        ).stdout.splitlines()
    rows = [i for i, line in enumerate(printed) if line[:1] in "◀‖▷?" and line.strip()]
    text = README.read_text(encoding="utf-8")
    before, rest = text.split(START, 1)
    after = rest.split(END, 1)[1]
    example = "\n".join(printed[: rows[ROWS]])
    README.write_text(f"{before}{START}{example}{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
