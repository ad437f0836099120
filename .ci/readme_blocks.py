"""Print the command that the n-th ```sh block of README.md holds: `readme_blocks.py 1`.

Each of the first two blocks must be exactly one line, because people paste it as one.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

README = Path(__file__).resolve().parent.parent / "README.md"
BLOCK = re.compile(r"^```sh\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def command(text: str, number: int) -> str:
    """The only line of the block `number`, counted from 1; ends the program when it is not one line."""
    blocks = BLOCK.findall(text)
    if len(blocks) < number:
        sys.exit(f"README.md has {len(blocks)} sh blocks, none is number {number}.")
    lines = blocks[number - 1].splitlines()
    if len(lines) != 1 or not lines[0].strip():
        sys.exit(f"Block {number} of README.md must be exactly one line; it has {len(lines)}.")
    return str(lines[0])


if __name__ == "__main__":
    sys.stdout.write(command(README.read_text(encoding="utf-8"), int(sys.argv[1])) + "\n")
