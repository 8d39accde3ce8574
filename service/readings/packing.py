"""A cook as few bytes: what must survive between two requests, packed to travel with the client and back.

The same content always packs to the same bytes. Nothing is signed or secret here; whoever unpacks bytes that came
from outside checks their signature first, and nothing but PackingError comes of bytes that are wrong all the same.

Layout, after one byte that gives the version:

1. a raw deflate stream (RFC 1951) of a header, three texts (programme, setup, stop rule), and the byte planes of the
   times (pop quotients, humidity, power, restarts) and of the values (humidity, air temperature, power);
2. the low bits of the gaps between pops, which no compressor can shorten.

How numbers become bytes is in ``service.readings.columns``.
"""

from __future__ import annotations

import zlib
from struct import Struct
from typing import NamedTuple

import numpy as np

from service.readings.columns import (
    TIME_PLANES,
    VALUE_PLANES,
    PackingError,
    differences,
    low_bits_of,
    of_planes,
    packed_low_bits,
    permille,
    shared_unit_gaps,
    times_of,
    to_planes,
    unzigzag,
    whole_gaps,
    zigzag,
)
from service.readings.cook import LATEST_MS, Cook, read_only
from service.readings.settled import Settled

__all__ = ["VERSION", "Packed", "PackingError", "pack", "unpack"]

VERSION = 1
"""The first byte of everything packed; any other is refused."""

_HEADER = Struct("<BHBiiiIIIIIIB")
_ABSENT = -1
_NO_RULE = 255
_LONGEST_NAME = 254
_LONGEST_SETUP = 65_535
_RAW_DEFLATE = -15
# Enough for the codes of a long cook in one block; more would only have to be wiped for each.
_MEMORY_LEVEL = 6


class Packed(NamedTuple):
    """What travels: the programme's name, the setup as canonical JSON, what was settled, and every reading."""

    programme: str
    setup_json: bytes
    settled: Settled
    cook: Cook


class _Header(NamedTuple):
    """The fields of ``_HEADER``, in its order: lengths of texts, settled times, counts, units, low bits of a gap."""

    programme_bytes: int
    setup_bytes: int
    rule_bytes: int
    as_of_ms: int
    stop_ms: int
    nudge_ms: int
    pops: int
    pop_unit_ms: int
    humidity: int
    humidity_unit_ms: int
    power: int
    restarts: int
    low_bits: int

    def text_lengths(self) -> tuple[int, int, int]:
        return self.programme_bytes, self.setup_bytes, 0 if self.rule_bytes == _NO_RULE else self.rule_bytes

    def time_lengths(self) -> tuple[int, int, int, int]:
        return self.pops, self.humidity, self.power, self.restarts

    def value_lengths(self) -> tuple[int, int]:
        return 2 * self.humidity, self.power


def pack(content: Packed) -> bytes:
    """The content as bytes. Raises PackingError for a text that is too long or a settled time that cannot be."""
    settled, cook = _checked(content.settled), content.cook
    texts = _texts(content)
    pop_gaps, pop_unit_ms = shared_unit_gaps(cook.pops_ms)
    humidity_gaps, humidity_unit_ms = shared_unit_gaps(cook.humidity_ms)
    low_bits = low_bits_of(pop_gaps)
    header = _Header(
        programme_bytes=len(texts[0]),
        setup_bytes=len(texts[1]),
        rule_bytes=_NO_RULE if settled.stop_rule is None else len(texts[2]),
        as_of_ms=settled.as_of_ms,
        stop_ms=_ABSENT if settled.stop_ms is None else settled.stop_ms,
        nudge_ms=_ABSENT if settled.nudge_ms is None else settled.nudge_ms,
        pops=pop_gaps.size,
        pop_unit_ms=pop_unit_ms,
        humidity=humidity_gaps.size,
        humidity_unit_ms=humidity_unit_ms,
        power=cook.power_ms.size,
        restarts=cook.restarts_ms.size,
        low_bits=low_bits,
    )
    times = (pop_gaps >> low_bits, humidity_gaps, differences(cook.power_ms), differences(cook.restarts_ms))
    drifting = np.concatenate((cook.humidity_permille, cook.air_decidegrees), dtype=np.int16, casting="unsafe")
    values = (zigzag(drifting.reshape(2, -1)).ravel(), cook.power_permille)
    planes = to_planes(times, TIME_PLANES), to_planes(values, VALUE_PLANES)
    small = _deflated(b"".join((_HEADER.pack(*header), *texts, *planes)))
    return bytes((VERSION,)) + small + packed_low_bits(pop_gaps, low_bits)


def unpack(data: bytes, *, limit: int) -> Packed:
    """The content of ``data``, which may neither be longer than ``limit`` bytes nor inflate to more.

    Raises PackingError for an unknown version, for bytes that are missing, left over or too many, and for content
    that cannot be: times that do not rise or are too late, values out of their range, names that are not UTF-8.
    """
    if len(data) > limit:
        raise PackingError(f"{len(data)} bytes are over the limit of {limit}")
    if not data or data[0] != VERSION:
        raise PackingError(f"the version is {data[0] if data else 'missing'}, not {VERSION}")
    small, low_bytes = _inflated(memoryview(data)[1:], limit)
    header = _header(small)
    texts, numbers = _split(small[_HEADER.size :], header.text_lengths())
    rule = None if header.rule_bytes == _NO_RULE else _name(texts[2])
    settled = Settled(
        as_of_ms=header.as_of_ms,
        stop_ms=None if header.stop_ms == _ABSENT else header.stop_ms,
        stop_rule=rule,
        nudge_ms=None if header.nudge_ms == _ABSENT else header.nudge_ms,
    )
    return Packed(
        programme=_name(texts[0]),
        setup_json=texts[1],
        settled=_checked(settled),
        cook=_cook(header, numbers, low_bytes),
    )


def _checked(settled: Settled) -> Settled:
    for time_ms in (settled.as_of_ms, settled.stop_ms, settled.nudge_ms):
        if time_ms is not None and not 0 <= time_ms <= LATEST_MS:
            raise PackingError(f"a settled time is {time_ms} ms, outside 0 to {LATEST_MS}")
    return settled


def _texts(content: Packed) -> tuple[bytes, bytes, bytes]:
    programme = content.programme.encode()
    rule = (content.settled.stop_rule or "").encode()
    if max(len(programme), len(rule)) > _LONGEST_NAME:
        raise PackingError(f"the name of a programme or a rule is longer than {_LONGEST_NAME} bytes")
    if len(content.setup_json) > _LONGEST_SETUP:
        raise PackingError(f"the setup is {len(content.setup_json)} bytes long, over {_LONGEST_SETUP}")
    return programme, content.setup_json, rule


def _deflated(small: bytes) -> bytes:
    # Repeated strings are rare in differences, runs of zeros are not: run-length matching is both smaller and faster.
    deflate = zlib.compressobj(9, zlib.DEFLATED, _RAW_DEFLATE, _MEMORY_LEVEL, zlib.Z_RLE)
    return deflate.compress(small) + deflate.flush()


def _inflated(data: memoryview, limit: int) -> tuple[bytes, bytes]:
    inflate = zlib.decompressobj(_RAW_DEFLATE)
    try:
        small = inflate.decompress(data, limit)
    except zlib.error as error:
        raise PackingError(f"the packed numbers do not inflate: {error}") from error
    if not inflate.eof:
        raise PackingError(f"the packed numbers are cut off or inflate to more than {limit} bytes")
    return small, inflate.unused_data


def _header(small: bytes) -> _Header:
    if len(small) < _HEADER.size:
        raise PackingError(f"the header is {len(small)} bytes long, not {_HEADER.size}")
    header = _Header._make(_HEADER.unpack_from(small))
    numbers = TIME_PLANES * sum(header.time_lengths()) + VALUE_PLANES * sum(header.value_lengths())
    expected = _HEADER.size + sum(header.text_lengths()) + numbers
    if len(small) != expected:
        raise PackingError(f"the header announces {expected} bytes, but there are {len(small)}")
    return header


def _split(small: bytes, lengths: tuple[int, ...]) -> tuple[list[bytes], bytes]:
    texts, at = [], 0
    for length in lengths:
        texts.append(small[at : at + length])
        at += length
    return texts, small[at:]


def _name(text: bytes) -> str:
    try:
        return text.decode()
    except UnicodeDecodeError as error:
        raise PackingError("the name of a programme or a rule is not UTF-8") from error


def _cook(header: _Header, numbers: bytes, low_bytes: bytes) -> Cook:
    split = TIME_PLANES * sum(header.time_lengths())
    quotients, humidity, power, restarts = of_planes(numbers[:split], TIME_PLANES, header.time_lengths())
    drifting, level = of_planes(numbers[split:], VALUE_PLANES, header.value_lengths())
    humid, air = unzigzag(drifting.reshape(2, -1))
    return Cook(
        pops_ms=times_of(whole_gaps(quotients, low_bytes, header.low_bits), header.pop_unit_ms),
        humidity_ms=times_of(humidity, header.humidity_unit_ms),
        humidity_permille=permille(humid),
        air_decidegrees=read_only(air.view(np.int16)),
        power_ms=times_of(power, 1),
        power_permille=permille(level),
        restarts_ms=times_of(restarts, 1),
    )
