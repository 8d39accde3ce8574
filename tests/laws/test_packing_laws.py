"""Packing loses nothing, and bytes that were not packed here are refused or are at least a cook that can be."""

from __future__ import annotations

import tracemalloc
import zlib
from struct import Struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.readings.cook import EMPTY, LATEST_MS, NO_AIR, Cook
from service.readings.packing import VERSION, Packed, PackingError, pack, unpack
from service.readings.settled import Settled
from tests.laws.cooks import Reading, batches, cook_of, cooks

LIMIT = 100_000
# The header of version 1, written out a second time: a change of either would strand the cooks under way.
HEADER = Struct("<BHBiiiIIIIIIB")
FIELDS = (
    "programme_bytes",
    "setup_bytes",
    "rule_bytes",
    "as_of_ms",
    "stop_ms",
    "nudge_ms",
    "pops",
    "pop_unit_ms",
    "humidity",
    "humidity_unit_ms",
    "power",
    "restarts",
    "low_bits",
)

settled_ms = st.integers(0, LATEST_MS)
names = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
contents = st.builds(
    Packed,
    programme=names,
    setup_json=st.binary(max_size=400),
    settled=st.builds(
        Settled,
        as_of_ms=settled_ms,
        stop_ms=st.none() | settled_ms,
        stop_rule=st.none() | names,
        nudge_ms=st.none() | settled_ms,
    ),
    cook=cooks,
)
PLAIN = Packed(
    programme="popcorn",
    setup_json=b'{"load_g":88.0}',
    settled=Settled(as_of_ms=95_000, stop_ms=94_500, stop_rule="silence_reached", nudge_ms=90_000),
    cook=Cook.of(
        pops_s=[61.25, 70.001, 70.404, 71.0, 72.5],
        humidity=[(0, 44.0, 22.9), (1, 43.2, None), (4, 51.7, -3.5)],
        power=[(0, 1.0), (17.7, 0.0), (22.25, 0.6)],
        restarts_s=[96.0],
    ),
)


def assert_alike(one: Packed, other: Packed) -> None:
    assert (one.programme, one.setup_json, one.settled) == (other.programme, other.setup_json, other.settled)
    assert one.cook.same_as(other.cook)


def assert_sound(content: Packed) -> None:
    """A content that could have been packed: its columns hold together, and it packs to something that unpacks to it."""
    cook = content.cook
    assert cook.humidity_ms.size == cook.humidity_permille.size == cook.air_decidegrees.size
    assert cook.power_ms.size == cook.power_permille.size
    for times_ms in (cook.pops_ms, cook.humidity_ms, cook.power_ms, cook.restarts_ms):
        assert not times_ms.flags.writeable
        assert (np.diff(times_ms) > 0).all()
        assert ((times_ms >= 0) & (times_ms <= LATEST_MS)).all()
    for permille in (cook.humidity_permille, cook.power_permille):
        assert ((permille >= 0) & (permille <= 1000)).all()
    assert (np.abs(cook.air_decidegrees) <= -NO_AIR).all()
    assert_alike(unpack(pack(content), limit=10 * LIMIT), content)


def assert_refused_or_sound(data: bytes) -> None:
    try:
        content = unpack(data, limit=LIMIT)
    except PackingError:
        return
    assert_sound(content)


def opened(data: bytes) -> tuple[dict[str, int], bytes, bytes]:
    """The header fields of packed bytes, what follows the header in the deflated part, and the low bits."""
    inflate = zlib.decompressobj(-15)
    small = inflate.decompress(data[1:])
    fields = dict(zip(FIELDS, HEADER.unpack_from(small), strict=True))
    return fields, small[HEADER.size :], inflate.unused_data


def closed(fields: dict[str, int], rest: bytes, low_bytes: bytes) -> bytes:
    deflate = zlib.compressobj(wbits=-15)
    small = HEADER.pack(*(fields[name] for name in FIELDS)) + rest
    return bytes((VERSION,)) + deflate.compress(small) + deflate.flush() + low_bytes


@given(contents)
def test_what_was_packed_comes_back(content: Packed) -> None:
    assert_alike(unpack(pack(content), limit=LIMIT), content)


@given(batches, st.data())
def test_the_same_readings_pack_to_the_same_bytes_however_they_came(batch: list[Reading], data: st.DataObject) -> None:
    def packed(cook: Cook) -> bytes:
        return pack(Packed(programme="popcorn", setup_json=b"{}", settled=PLAIN.settled, cook=cook))

    cook = EMPTY
    for reading in data.draw(st.permutations(batch)):
        cook = cook.merged(cook_of([reading]))
    assert packed(cook) == packed(cook_of(batch))
    assert packed(unpack(packed(cook), limit=LIMIT).cook) == packed(cook)


@given(contents, st.data())
def test_a_flipped_bit_is_refused_or_still_a_cook(content: Packed, data: st.DataObject) -> None:
    packed = bytearray(pack(content))
    bit = data.draw(st.integers(0, 8 * len(packed) - 1))
    packed[bit // 8] ^= 1 << bit % 8
    assert_refused_or_sound(bytes(packed))


@given(contents, st.data())
def test_altered_numbers_are_refused_or_still_a_cook(content: Packed, data: st.DataObject) -> None:
    """Behind the deflate stream, where a flipped bit would rarely get to."""
    fields, rest, low_bytes = opened(pack(content))
    small = bytearray(HEADER.pack(*fields.values()) + rest)
    for _ in range(data.draw(st.integers(1, 4))):
        small[data.draw(st.integers(0, len(small) - 1))] = data.draw(st.integers(0, 255))
    deflate = zlib.compressobj(wbits=-15)
    assert_refused_or_sound(bytes((VERSION,)) + deflate.compress(bytes(small)) + deflate.flush() + low_bytes)


@given(contents, st.data())
def test_a_header_that_lies_is_refused_or_still_a_cook(content: Packed, data: st.DataObject) -> None:
    fields, rest, low_bytes = opened(pack(content))
    name = data.draw(st.sampled_from(FIELDS))
    fields[name] = data.draw(st.integers(0, 255) | st.just(fields[name] + 1) if fields[name] < 255 else st.just(0))
    assert_refused_or_sound(closed(fields, rest, low_bytes))


@given(st.binary(max_size=200))
def test_any_bytes_are_refused_or_a_cook(data: bytes) -> None:
    assert_refused_or_sound(data)
    assert_refused_or_sound(bytes((VERSION,)) + data)


@given(contents, st.data())
def test_packed_bytes_that_were_cut_off_are_refused(content: Packed, data: st.DataObject) -> None:
    packed = pack(content)
    length = data.draw(st.integers(0, len(packed) - 1))
    with pytest.raises(PackingError):
        unpack(packed[:length], limit=LIMIT)


@pytest.mark.parametrize("cook", [PLAIN.cook, EMPTY], ids=["with low bits behind", "without"])
def test_no_packed_bytes_are_the_beginning_of_others(cook: Cook) -> None:
    packed = pack(Packed(programme="popcorn", setup_json=b"{}", settled=PLAIN.settled, cook=cook))
    for length in range(len(packed)):
        with pytest.raises(PackingError):
            unpack(packed[:length], limit=LIMIT)


@given(contents, st.binary(min_size=1, max_size=20))
def test_packed_bytes_with_more_behind_them_are_refused(content: Packed, more: bytes) -> None:
    with pytest.raises(PackingError):
        unpack(pack(content) + more, limit=LIMIT)


@pytest.mark.parametrize("version", sorted({0, 1, 2, 127, 255} - {VERSION}))
def test_an_unknown_version_is_refused(version: int) -> None:
    with pytest.raises(PackingError, match=f"the version is {version}, not {VERSION}"):
        unpack(bytes((version,)) + pack(PLAIN)[1:], limit=LIMIT)


def test_bytes_of_the_first_version_stay_readable() -> None:
    kept = bytes.fromhex(
        "0145c1b10d82401480e1fff1628cd585ce9a501b2b43ecddc1ee428e0b9810ee8482c2b8837338020350380953a89d7edfda60b683905f8587155680000a2c0a0a08b08921bad077b7ac0d6565ebec5814bbfd7db8b4be73def6be748dafc6144910259ff939a5237f12cdf3759816ce0af2fe28c917a10bf2654ee0"
    )
    assert_alike(unpack(kept, limit=LIMIT), PLAIN)


def test_few_bytes_that_inflate_to_many_are_refused_before_they_do() -> None:
    bomb = bytes((VERSION,)) + zlib.compress(bytes(50_000_000), 9, wbits=-15)
    assert len(bomb) < LIMIT
    tracemalloc.start()
    try:
        with pytest.raises(PackingError, match="inflate to more than 100000 bytes"):
            unpack(bomb, limit=LIMIT)
        assert tracemalloc.get_traced_memory()[1] < 10 * LIMIT
    finally:
        tracemalloc.stop()


def test_the_limit_is_the_most_that_may_be_inflated() -> None:
    packed = pack(PLAIN)
    inflated = len(zlib.decompressobj(-15).decompress(packed[1:]))
    assert_alike(unpack(packed, limit=inflated), PLAIN)
    with pytest.raises(PackingError, match="inflate to more than"):
        unpack(packed, limit=inflated - 1)
    with pytest.raises(PackingError, match="over the limit of 10"):
        unpack(packed, limit=10)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"as_of_ms": -1}, "a settled time"),
        ({"as_of_ms": LATEST_MS + 1}, "a settled time"),
        ({"stop_ms": -2}, "a settled time"),
        ({"nudge_ms": LATEST_MS + 1}, "a settled time"),
        ({"humidity_unit_ms": 0}, "a unit of time"),
        ({"pop_unit_ms": LATEST_MS + 1}, "a unit of time"),
        ({"pop_unit_ms": LATEST_MS}, "later than"),
        ({"humidity_unit_ms": 2_000_000}, "later than"),
        ({"low_bits": 31}, "do not fit"),
        ({"low_bits": 0}, "do not fit"),
        ({"pops": 4_000_000_000}, "announces"),
        ({"setup_bytes": 0}, "announces"),
    ],
)
def test_a_header_that_cannot_be_is_refused(changed: dict[str, int], message: str) -> None:
    fields, rest, low_bytes = opened(pack(PLAIN))
    with pytest.raises(PackingError, match=message):
        unpack(closed(fields | changed, rest, low_bytes), limit=LIMIT)


@pytest.mark.parametrize(
    ("where", "value", "message"),
    [
        pytest.param("programme", 0xFF, "not UTF-8", id="a name that is no text"),
        pytest.param("second humidity gap", 0, "do not rise", id="two readings at the same time"),
        pytest.param("first power level, high byte", 0xFF, "over 1000 permille", id="more than full power"),
        pytest.param("first humidity, high byte", 0xFF, "over 1000 permille", id="more than saturated"),
        pytest.param("last pop quotient, highest byte", 0xFF, "longer than", id="a gap longer than any cook"),
        pytest.param("restart gap, highest byte", 0xFF, "later than", id="a restart later than any cook"),
    ],
)
def test_numbers_that_cannot_be_are_refused(where: str, value: int, message: str) -> None:
    fields, rest, low_bytes = opened(pack(PLAIN))
    texts = fields["programme_bytes"] + fields["setup_bytes"] + fields["rule_bytes"]
    times = fields["pops"] + fields["humidity"] + fields["power"] + fields["restarts"]
    values_at, values = texts + 3 * times, 2 * fields["humidity"] + fields["power"]
    position = {
        "programme": 0,
        "second humidity gap": texts + fields["pops"] + 1,
        "last pop quotient, highest byte": texts + 2 * times + fields["pops"] - 1,
        "restart gap, highest byte": texts + 3 * times - 1,
        "first humidity, high byte": values_at + values,
        "first power level, high byte": values_at + values + 2 * fields["humidity"],
    }[where]
    altered = rest[:position] + bytes((value,)) + rest[position + 1 :]
    with pytest.raises(PackingError, match=message):
        unpack(closed(fields, altered, low_bytes), limit=LIMIT)


@pytest.mark.parametrize("low_bits", [24, 31, 32, 255])
def test_more_low_bits_than_any_gap_has_are_refused(low_bits: int) -> None:
    fields = dict.fromkeys(FIELDS, 0) | {"pop_unit_ms": 1, "pops": 1, "humidity_unit_ms": 1, "low_bits": low_bits}
    with pytest.raises(PackingError, match="do not fit"):
        unpack(closed(fields, bytes(3), b"\xff" * ((low_bits + 7) // 8)), limit=LIMIT)


def test_a_sum_of_gaps_that_overflows_is_refused() -> None:
    """400 humidity gaps of nearly 2^24 ms pass 2^31 and 2^32, and would come out low again."""
    count = 400
    fields = dict.fromkeys(FIELDS, 0) | {"pop_unit_ms": 1, "humidity": count, "humidity_unit_ms": 1, "rule_bytes": 255}
    with pytest.raises(PackingError, match="do not rise"):
        unpack(closed(fields, b"\xff" * 3 * count + bytes(4 * count), b""), limit=LIMIT)


@pytest.mark.parametrize(
    "content",
    [
        pytest.param({"programme": "p" * 255}, id="programme"),
        pytest.param({"setup_json": b" " * 65_536}, id="setup"),
        pytest.param({"settled": Settled(as_of_ms=0, stop_ms=0, stop_rule="r" * 255, nudge_ms=None)}, id="rule"),
        pytest.param({"settled": Settled(as_of_ms=-1, stop_ms=None, stop_rule=None, nudge_ms=None)}, id="as_of"),
    ],
)
def test_content_that_would_not_come_back_is_not_packed(content: dict[str, object]) -> None:
    with pytest.raises(PackingError):
        pack(PLAIN._replace(**content))
