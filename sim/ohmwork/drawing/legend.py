"""The key to the signs, in the emptiest corner of a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from ohmwork.drawing.paper import Box, Label, Sheet, meet
from ohmwork.drawing.words import two_lines

SIGNS = ("you can touch here", "joined", "crossing, not joined")
ROOM = (40.0, 28.0, 20.0, 14.0)
"""Free room to look for around the key, best first. [px]"""

LEFT = 28.0
"""Where the key begins that stands at the foot. [px]"""


def with_key(sheet: Sheet, remark: str = "") -> Sheet:
    """Return the sheet with title and key: in a free corner, or else at the foot.

    Parameters
    ----------
    sheet : without a key.
    remark : what else must be known to read it, as the key's last line.
    """
    block = list(_block(sheet.title, remark))
    wide = max(label.box[2] for label in block)
    high = max(label.box[3] for label in block)
    taken = list(_taken(sheet))
    for by in ROOM:
        for y in range(8, int(sheet.height - high), 8):
            for x in range(int(sheet.width - wide) - 8, 8, -8):
                box = (x - by, y - by, x + wide + by, y + high + by)
                if not any(meet(box, other) for other in taken):
                    return _add(sheet, block, float(x), float(y))
    row = list(_row(sheet.title, remark))
    if LEFT + row[-1].box[2] < sheet.width - 4.0:
        block = row
    grown = replace(
        sheet,
        width=max(sheet.width, *(LEFT + label.box[2] + 4.0 for label in block)),
        height=sheet.height + max(label.box[3] for label in block) + 20.0,
    )
    return _add(grown, block, LEFT, sheet.height + 12.0)


def _add(sheet: Sheet, labels: list[Label], x: float, y: float) -> Sheet:
    moved = (replace(label, x=label.x + x, y=label.y + y) for label in labels)
    return replace(sheet, labels=(*sheet.labels, *moved))


def _block(title: str, remark: str) -> Iterator[Label]:
    """Yield title, signs and remark below one another."""
    subject, _, rest = title.partition(": ")
    lines = [subject + ":", rest] if 0 < len(rest) < 36 else two_lines(title, 24)
    for i, line in enumerate(lines):
        yield Label(text=line, x=0.0, y=8.0 + 15.0 * i, anchor="start", role="title")
    for i, sign in enumerate(SIGNS):
        y = 15.0 * len(lines) + 10.0 + 20.0 * i
        yield Label(text=sign, x=24.0, y=y, anchor="start", role="key")
    if remark:
        yield Label(text=remark, x=0.0, y=y + 20.0, anchor="start", role="remark")


def _row(title: str, remark: str) -> Iterator[Label]:
    """Yield title, signs and remark beside one another."""
    label = Label(text=title, x=0.0, y=0.0, anchor="start", role="title")
    yield label
    for sign in SIGNS:
        x = label.box[2] + 48.0
        label = Label(text=sign, x=x, y=0.0, anchor="start", role="key")
        yield label
    if remark:
        x = label.box[2] + 32.0
        yield Label(text=remark, x=x, y=0.0, anchor="start", role="remark")


def _taken(sheet: Sheet) -> Iterator[Box]:
    for label in sheet.labels:
        yield label.box
    for area in sheet.areas:
        yield area.box
    for frame in sheet.frames:
        yield frame.box
    for s in sheet.symbols:
        yield (s.x - 22.0, s.y - s.half, s.x + s.aside + 22.0, s.y + s.half)
    for line in sheet.lines:
        for (xa, ya), (xb, yb) in pairwise(line.points):
            yield (min(xa, xb), min(ya, yb), max(xa, xb), max(ya, yb))
