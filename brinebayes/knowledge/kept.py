"""One object in one file, read without copying its arrays.

A pickle, and before it the arrays that belong to it as they lie in memory (pickle protocol 5,
"out-of-band data"). Reading maps the file: what is never looked at is never read, and arrays come
back read-only. A checksum finds damage; who may have written the file is for the caller to know.

    magic | CRC-32 of all that follows | sizes of the pickle and the arrays | arrays | pickle

Every array begins at a multiple of 64 bytes, where processors like them to begin.
"""

from __future__ import annotations

import mmap
import pickle
import struct
import zlib
from collections.abc import Iterator
from typing import BinaryIO

_MAGIC = b"brinebayes kept 1\n"
_CHECKSUM = struct.Struct("<I")
_COUNT = struct.Struct("<QQ")
_ALIGN = 64

#: Arrays of fewer bytes stay within the pickle.
_SMALL = 512


def write(file: BinaryIO, made: object) -> None:
    """Write `made` into an empty file. Raises what pickle raises."""
    arrays: list[memoryview] = []

    def beside(buffer: pickle.PickleBuffer) -> bool:
        raw = buffer.raw()
        if raw.nbytes >= _SMALL:
            arrays.append(raw)
        return raw.nbytes < _SMALL

    body = pickle.dumps(made, protocol=5, buffer_callback=beside)
    sizes = [one.nbytes for one in arrays]
    head = _COUNT.pack(len(body), len(sizes)) + struct.pack(f"<{len(sizes)}Q", *sizes)
    at = len(_MAGIC) + _CHECKSUM.size + len(head)
    parts: list[bytes | memoryview] = [*arrays, body]
    pieces: list[bytes | memoryview] = [head]
    for part in parts:
        gap = -at % _ALIGN
        pieces += [bytes(gap), part]
        at += gap + len(part)
    checksum = 0
    for piece in pieces:
        checksum = zlib.crc32(piece, checksum)
    file.writelines([_MAGIC, _CHECKSUM.pack(checksum), *pieces])


def read(handle: int) -> object:
    """What `write` put into the open file. Raises ValueError, or what pickle raises, on damage."""
    content = memoryview(mmap.mmap(handle, 0, access=mmap.ACCESS_READ))
    start = len(_MAGIC) + _CHECKSUM.size
    if content[: len(_MAGIC)] != _MAGIC or len(content) < start + _COUNT.size:
        raise ValueError("not a file of this kind")
    if zlib.crc32(content[start:]) != _CHECKSUM.unpack_from(content, len(_MAGIC))[0]:
        raise ValueError("the file is damaged")
    size, count = _COUNT.unpack_from(content, start)
    start += _COUNT.size
    sizes = struct.unpack_from(f"<{count}Q", content, start)
    *arrays, body = _parts(content, start + 8 * count, (*sizes, size))
    return pickle.loads(body, buffers=arrays)


def _parts(content: memoryview, at: int, sizes: tuple[int, ...]) -> Iterator[memoryview]:
    for size in sizes:
        at += -at % _ALIGN
        yield content[at : at + size]
        at += size
