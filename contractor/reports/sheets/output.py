"""Write a document of pydyf with many small object streams, and its bytes only once.

pydyf puts every small object into one stream, which readers unpack whole for each of a hundred
thousand tags, and compresses every page a second time to name the file.
"""

import hashlib
import zlib
from typing import Any, BinaryIO

import pydyf

#: How many small objects share a stream.
TOGETHER = 200


def write(pdf: Any, output: BinaryIO, *_given: object, sealed: bytes) -> None:
    """Write a document; `sealed` is the first half of its identifier, the second is its hash.

    Source: ISO 32000-1, 7.5.7 (object streams), 7.5.8 (cross-reference streams), 14.4.
    """
    if pdf.info:
        pdf.add_object(pdf.info)
    digest = hashlib.sha256()
    position = 0

    def put(data: bytes) -> int:
        nonlocal position
        began = position
        output.write(data + b"\n")
        digest.update(data)
        position += len(data) + 1
        return began

    put(b"%PDF-1.7\n%\xf0\x9f\x96\xa4")
    entries: list[tuple[int, int, int]] = [(0, 0, 65535)] * len(pdf.objects)
    small = []
    for thing in pdf.objects:
        if thing.free == "f":
            continue
        if thing.compressible:
            small.append(thing)
        else:
            entries[thing.number] = (1, put(thing.indirect), 0)
    for first in range(0, len(small), TOGETHER):
        together = small[first : first + TOGETHER]
        number = len(entries)
        for at, thing in enumerate(together):
            entries[thing.number] = (2, number, at)
        entries.append((1, put(_object_stream(number, together)), 0))
    entries.append((1, position, 0))
    extra = {
        "Type": "/XRef",
        "W": pydyf.Array((1, 4, 2)),
        "Size": len(entries),
        "Root": pdf.catalog.reference,
        "ID": pydyf.Array((_hex(sealed), _hex(digest.digest()[:16]))),
    }
    if pdf.info:
        extra["Info"] = pdf.info.reference
    rows = b"".join(
        kind.to_bytes(1, "big") + place.to_bytes(4, "big") + more.to_bytes(2, "big")
        for kind, place, more in entries
    )
    table = pydyf.Stream([rows], extra, True)
    table.number = len(entries) - 1
    began = put(table.indirect)
    put(b"startxref\n%d\n%%%%EOF" % began)


def _object_stream(number: int, together: list[Any]) -> bytes:
    heads, bodies, at = [], [], 0
    for thing in together:
        data = thing.data
        heads.append(b"%d %d" % (thing.number, at))
        bodies.append(data)
        at += len(data) + 1
    head = b" ".join(heads) + b"\n"
    packed = zlib.compress(head + b"\n".join(bodies), 9)
    return (
        b"%d 0 obj\n<</Type/ObjStm/N %d/First %d/Filter/FlateDecode/Length %d>>stream\n"
        % (
            number,
            len(together),
            len(head),
            len(packed),
        )
        + b"%b\nendstream\nendobj" % packed
    )


def _hex(data: bytes) -> bytes:
    return b"<%b>" % data.hex().encode()
