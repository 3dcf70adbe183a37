"""A hash list over a delivery: ASC Media Hash List, version 2.0.

One generation, written with the files: its manifest lists every file with its size and C4 ID, and
the chain file holds the C4 ID of the manifest. A C4 ID (SMPTE ST 2114:2017) is a SHA-512 in base 58
after "c4", 90 characters. Times of the file system are left out: they change as files are copied.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, datetime
from xml.sax.saxutils import escape

from wbplan import __version__
from wbplan.core.output import SUMS_NAME

HASH_FOLDER = "ascmhl"
_DIGITS = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
_IGNORED = (".DS_Store", "ascmhl", "ascmhl/", SUMS_NAME)


def find_c4(data: bytes) -> str:
    """Find the C4 ID of bytes: "c4" and 88 digits of base 58."""
    number = int.from_bytes(hashlib.sha512(data).digest(), "big")
    digits = ""
    while number:
        number, rest = divmod(number, 58)
        digits = _DIGITS[rest] + digits
    return "c4" + digits.rjust(88, _DIGITS[0])


def name_hash_lists(title: str, written: datetime) -> tuple[str, str]:
    """Name the manifest of the hashes and the chain, below the delivery."""
    stamp = f"{written.astimezone(UTC):%Y-%m-%d_%H%M%SZ}"
    return f"{HASH_FOLDER}/0001_{title}_{stamp}.mhl", f"{HASH_FOLDER}/ascmhl_chain.xml"


def make_hash_lists(files: Mapping[str, bytes], title: str, written: datetime) -> dict[str, bytes]:
    """Make the manifest of the hashes and the chain, by name.

    Parameters
    ----------
    files
        Everything else in the delivery, by paths with ``/``.
    title
        Of the delivery, safe in a file name.
    written
        When it was written, with its time zone.
    """
    manifest, chain = name_hash_lists(title, written)
    date = f"{written.astimezone(UTC):%Y-%m-%dT%H:%M:%S+00:00}"
    listed = "".join(
        f'    <hash>\n      <path size="{len(data)}">{escape(path)}</path>\n'
        f'      <c4 action="original" hashdate="{date}">{find_c4(data)}</c4>\n    </hash>\n'
        for path, data in sorted(files.items())
    )
    ignored = "".join(f"      <pattern>{each}</pattern>\n" for each in _IGNORED)
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">\n'
        f"  <creatorinfo>\n    <creationdate>{date}</creationdate>\n"
        "    <hostname>not recorded</hostname>\n"
        f'    <tool version="{__version__}">wbplan</tool>\n  </creatorinfo>\n'
        "  <processinfo>\n    <process>in-place</process>\n"
        f"    <ignore>\n{ignored}    </ignore>\n  </processinfo>\n"
        f"  <hashes>\n{listed}  </hashes>\n</hashlist>\n"
    ).encode()
    linked = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<ascmhldirectory xmlns="urn:ASC:MHL:DIRECTORY:v2.0">\n  <hashlist sequencenr="1">\n'
        f"    <path>{escape(manifest.rpartition('/')[2])}</path>\n"
        f"    <c4>{find_c4(text)}</c4>\n  </hashlist>\n</ascmhldirectory>\n"
    ).encode()
    return {manifest: text, chain: linked}
