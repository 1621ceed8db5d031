"""Broken input through every door: python tests/broken/fuzz.py [--inputs 200000] [--seed 1].

The shipped files, and briefs put together from the list of keys, are spoiled: in bytes, in words
and numbers, and in the structure of their tables. What comes of it is read as a user's file would
be. An input may be refused by an InputError whose lines can be printed, or taken; anything else is
a failure: another exception, a warning, more than two seconds, more than 500 MB. Of the briefs
that are taken a few are screened, and a few judged by the command.

Each input follows from the seed, its door and its number alone: --door NAME --only NUMBER tries it
once more. A failure is printed with its number, and with what is left of its input when all is
taken away that it does not need. The exit status is 1 if there is one.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import csv
import io
import json
import os
import re
import resource
import shutil
import signal
import struct
import sys
import tempfile
import time
import tomllib
import traceback
import unicodedata
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import islice, product
from math import exp
from multiprocessing import get_context
from pathlib import Path
from random import Random
from typing import Any

import tomli_w
from tqdm import tqdm

from isolator import schema, units
from isolator.brief import Brief, read_brief, read_mounts
from isolator.cli import main
from isolator.inside import ENDS, FACES, LEVELS, SIDES
from isolator.logger import read_recording
from isolator.pair import transmissibility
from isolator.record_quality import quality
from isolator.recorded_trip import trip_record
from isolator.recording import Recording
from isolator.ringdown import ring_down
from isolator.rubber import Hardness
from isolator.sweep import glance
from isolator.tables import LARGEST_FILE, Folder
from isolator.tones import dwell, swept
from isolator.units import InputError, Kind

DATA = Path(__file__).parents[2] / "data"
INPUTS, CHUNK = 200_000, 250
LONGEST, MOST_MEMORY = 2.0, 500.0
"""A failure above this: computing time of one input, most memory of its process. [s, MB]"""
WAITS = 60.0
"""How long an input may stand still, or what is done with it afterwards may take. [s]"""
SPACE = 4 << 30
"""Addresses of a process: above it comes a MemoryError and not the end of the machine. [B]"""
SCREENED, JUDGING, FITTED = 60, 600, 20
"""One in so many of what is taken: briefs that are screened; briefs that the command judges;
recordings that are fitted as a tap and read as a trip."""
ROWS, CELLS, NODES = 1200, 3000, 60_000
"""Of a table that is too long, of a row that is too wide, and of a brief that repeats itself."""
STATUS = {0, 1, 2, 3}

BRIEFS = ("starter", "ice-radar", "planetarium", "water-lab", "echo-amplifier")
NUMBERS = (
    "0", "-1", "-0", "1e308", "-1e308", "1e999", "1e-308", "1e-999", "nan", "inf", "-inf", "NaN",
    "9" * 41, "9" * 5000, "0x10", "1_000", "1,5", "1.5.2", "+3", ".5", "5.", "1e", "1/3", "1/0",
    "1 000", "١٢", "½", "1e-3", "1e3", "1e9", "0.1", "7", "64", "65", "1000000000", "1e4000000",
)  # fmt: skip
UNITS = (
    "", "kg", "g", "t", "mm", "m", "km", "in", "N", "N/mm", "N*s/m", "Hz", "rpm", "g0", "g0^2/Hz",
    "m/s^2", "°C", "K", "s", "ms", "h", "year", "%", "deg", "kPa", "W", "kg*m^2", "1/kPa", "mm^9",
    "furlong", "/", "*", "^", "kg**", "N/mm/mm/mm", "µm", "°", "\u212a", "kg kg", "mm²", "m" * 70,
    "Shore A",
)  # fmt: skip
WORDS = (
    "", " ", "\t", "\0", "\x1b[2J", "\u202e", "\u2028", "\ud800", "\ufeff", "é" * 90, "氷", "🧊",
    "none", "true", "../x.csv", "/dev/zero", "parts.csv", "=1+1", "<b>", "{{x}}", "%s", "$x",
    "a" * 300, "soft", "lid up", "resonance", "#", '"', "'", "\\", ",", ";", "\n", "\r", "[", "]",
    "payload", "frame", "1979-05-27", "half-sine", "edges",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    0, 1, -1, 10**9, 2**63 - 1, 10**400, 1e308, -1e308, 5e-324, float("nan"), float("inf"), True,
    False, [], {}, [[]], [{}], {"a": []}, [1, 2, 3], ["0 mm"] * 3, [["0 mm"] * 3] * 3,
    ["1 mm"] * 2000,
)  # fmt: skip
_WORD = re.compile(r"[-+]?[0-9.]+|[\w°²³%µ-]+|\S")


@dataclass(frozen=True)
class Given:
    """An input: what is handed over, and how: the name of a file, of a kind, options."""

    what: bytes
    how: str


@dataclass(frozen=True)
class Door:
    """Where input comes in.

    Attributes
    ----------
    share : float
        Of all inputs.
    make : function of a source of chance
    enter : function of an input and a folder
        An InputError refuses it.
    further : function of what comes of that and of a source of chance
        What is done with some of it: work and no reading, which may take longer.
    """

    share: float
    make: Callable[[Random], Given]
    enter: Callable[[Given, Path], Any]
    further: Callable[[Any, Random], None] = lambda found, chance: None


class Broken(Exception):
    """What no exception says: a status, a traceback on a stream, a message that cannot be read."""


# Spoiling bytes, and the words and numbers of a text.


def encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def spoiled(raw: bytes, chance: Random) -> bytes:
    """One to four slips."""
    for _ in range(chance.choice((1, 1, 2, 4))):
        slip = chance.choice((_bit, _some, _cut, _twice, _lines, _token, _token, _token))
        raw = slip(raw, chance) if raw else b"\n"
    return raw


def _span(raw: bytes, chance: Random, longest: int) -> tuple[int, int]:
    start = chance.randrange(len(raw))
    return start, start + chance.randint(1, longest)


def _bit(raw: bytes, chance: Random) -> bytes:
    at = chance.randrange(len(raw))
    return raw[:at] + bytes([raw[at] ^ (1 << chance.randrange(8))]) + raw[at + 1 :]


def _some(raw: bytes, chance: Random) -> bytes:
    start, end = _span(raw, chance, 4)
    new = chance.choice((b"\0", b"\xff\xfe", b"\xc3", b"\x80", chance.randbytes(3), b'"', b"\r"))
    return raw[:start] + new + raw[chance.choice((start, end)) :]


def _cut(raw: bytes, chance: Random) -> bytes:
    start, end = _span(raw, chance, chance.choice((4, 40, 10_000)))
    return raw[:start] + raw[end:]


def _twice(raw: bytes, chance: Random) -> bytes:
    start, end = _span(raw, chance, chance.choice((4, 200)))
    return raw[:start] + raw[start:end] * chance.choice((2, 3, 500)) + raw[end:]


def _lines(raw: bytes, chance: Random) -> bytes:
    lines = raw.split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    slip = chance.randrange(3)
    if slip == 0:
        lines.insert(other, lines[one])
    else:
        lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines if slip < 2 else lines[:one] + lines[one + 1 :])


def _token(raw: bytes, chance: Random) -> bytes:
    """Another number, unit or word in the place of one."""
    text = raw.decode("utf-8", "surrogateescape")
    start, end = chance.choice([m.span() for m in _WORD.finditer(text)] or [(0, 0)])
    return encoded(text[:start] + _any(chance) + text[end:])


def _any(chance: Random) -> str:
    return chance.choice(chance.choice((NUMBERS, UNITS, WORDS)))


# Briefs: their text, their tables, and what the list of keys allows.


@cache
def examples() -> dict[str, dict[str, str]]:
    """Examples of data/keys.csv by table and key."""
    out: dict[str, dict[str, str]] = {}
    with (DATA / "keys.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            out.setdefault(row["table"], {})[row["key"]] = row["example"]
    return out


def whole() -> dict[str, Any]:
    """A brief with files of all kinds, from the starter."""
    brief = tomllib.loads((DATA / "starter" / "case.toml").read_text(encoding="utf-8"))
    del brief["payload"]["mass"], brief["payload"]["centre"]
    for face in FACES:
        del brief["case"][face.replace(" ", "_")]
    brief["payload"] |= {"parts": "parts.csv", "size": ["420 mm", "300 mm", "160 mm"]}
    brief["case"] |= {"mass": "60 kg", "size": ["800 mm", "700 mm", "500 mm"], "gaps": "gaps.csv"}
    brief["case"] |= {"parts": "fixed.csv", "obstacles": "obstacles.csv"}
    brief["case"]["cushion"] = {"thickness": "50 mm", "area": "250 cm^2", "points": "foam.csv"}
    brief["mount"]["bag"] = {"weights": "ring.csv", "across": "6 N/mm", "dynamic_ratio": 1.2}
    brief["mounts"] |= {"table": "mounts.csv", "use": "ring"}
    brief["leg"][0]["road"] = {"vertical": "road.csv", "transverse": "road.csv"}
    brief["leg"][0]["pulse"] = {"record": "shock.csv"}
    return brief


MODELS = {
    "parts.csv": schema.PartRow,
    "fixed.csv": schema.PartRow,
    "mounts.csv": schema.MountRow,
    "gaps.csv": schema.CornerRow,
    "obstacles.csv": schema.ObstacleRow,
    "shock.csv": schema.RecordRow,
    "road.csv": schema.SpectrumRow,
    "ring.csv": schema.WeightRow,
    "foam.csv": schema.CushionRow,
}
"""Tables of the whole brief, and what a row of each is."""


@cache
def tables() -> dict[str, tuple[bytes, ...]]:
    """Each table as the whole brief has it, and others of its kind."""
    head = {name: table for table in examples() if (name := table.removesuffix(" file")) != table}
    rows = {
        name: "{}\n{}\n".format(
            *(",".join(f'"{cell}"' for cell in some) for some in (keys, keys.values()))
        )
        for name, keys in ((name, examples()[table]) for name, table in head.items())
    }
    pulse = "".join(f"{k * 0.5},{20 - abs(k - 20)}\n" for k in range(41))
    corners = "".join(f"{','.join(at)},150,150,150\n" for at in product(ENDS, SIDES, LEVELS))
    weights = "".join(f"{0.5 * k},{2.4 * k}\n" for k in range(6))
    foam = "".join(
        f"{k / 10},600,50,{20 * exp(0.096 * k) / (k / 10):.4g}\n" for k in range(8, 24, 2)
    )
    shipped = {
        file: (DATA / file).read_bytes()
        for file in (
            "ice-radar/parts.csv", "planetarium/parts.csv", "planetarium/fixed.csv",
            "water-lab/parts.csv", "ice-radar/mounts.csv", "catalogue.csv", "ice-radar/sled.csv",
            "water-lab/gravel.csv",
        )
    }  # fmt: skip
    radar, planet, fixed, lab, kinds, every, sled, gravel = shipped.values()
    parts, mounts = rows["parts"].encode(), rows["mounts"].encode()
    return {
        "parts.csv": (radar, planet, lab, parts),
        "fixed.csv": (fixed, parts, lab),
        "mounts.csv": (kinds, mounts, b"\n".join(every.split(b"\n")[:12])),
        "gaps.csv": (f"{','.join(examples()['gaps file'])}\n{corners}".encode(),),
        "obstacles.csv": (rows["obstacles"].encode(),),
        "shock.csv": (f"time [ms],acceleration [g0]\n{pulse}".encode(), rows["record"].encode()),
        "road.csv": (gravel, sled, rows["road"].encode()),
        "ring.csv": (f"mass [kg],deflection [mm]\n{weights}".encode(), rows["weights"].encode()),
        "foam.csv": (
            f"static stress [kPa],height [mm],thickness [mm],peak [g0]\n{foam}".encode(),
            rows["cushion"].encode(),
        ),
    }


@cache
def briefs() -> dict[str, bytes]:
    """The shipped briefs and the whole one, by the folder that they are in."""
    shipped = {name: (DATA / name / "case.toml").read_bytes() for name in BRIEFS}
    return shipped | {"whole": tomli_w.dumps(whole()).encode()}


def make_text(chance: Random) -> Given:
    """A brief with slips of the keyboard."""
    name = chance.choice(list(briefs()))
    return Given(spoiled(briefs()[name], chance), name)


def make_structure(chance: Random) -> Given:
    """A brief with slips in its tables: other values, keys, types, places, depths."""
    name = chance.choice(list(briefs()))
    brief = tomllib.loads(briefs()[name].decode())
    for _ in range(chance.choice((1, 1, 2, 5))):
        slip = chance.choice((_other_value, _other_value, _other_key, _moved, _many, _deep))
        slip(brief, chance)
        if len(list(islice(_nodes(brief), NODES // 20))) == NODES // 20:
            break  # one slip more could make it endless
    return Given(_toml(brief), name)


def make_from_keys(chance: Random) -> Given:
    """A shipped brief with keys of the list added, as in its examples or nearly."""
    name = chance.choice(list(briefs()))
    brief = tomllib.loads(briefs()[name].decode())
    heads = [head for head in examples() if head.startswith(("[", "top"))]
    for head in chance.choices(heads, k=chance.choice((1, 1, 2, 4))):
        listed = head.startswith("[[")
        table: Any = brief
        for word in head.strip("[]").split(".") if head.startswith("[") else ():
            word = "box" if word == "NAME" else word
            inner = table.get(word) if isinstance(table, dict) else None
            if isinstance(inner, list):
                inner = chance.choice(inner) if inner and not listed else None
            if not isinstance(inner, dict):
                inner = {}
                last = listed and re.search(rf"[.\[]{word}\]\]$", head)
                if last and isinstance(table.get(word), list):
                    table[word].append(inner)
                else:
                    table[word] = [inner] if last else inner
            table = inner
        keys = list(examples()[head])
        few = chance.random() < 0.7
        for key in chance.sample(keys, chance.randint(1, min(3, len(keys)))) if few else keys:
            value = tomllib.loads(f"x = {examples()[head][key]}")["x"]
            table[key] = _nearly(value, chance) if chance.random() < 0.4 else value
    return Given(_toml(brief), name)


def _toml(brief: dict[str, Any]) -> bytes:
    """As TOML, with lone surrogates and endless numbers as they are."""
    try:
        return encoded(tomli_w.dumps(brief))
    except (RecursionError, MemoryError):  # deeper or longer than it can be written
        return b"x = " + b"[" * 5000


def _nearly(value: Any, chance: Random) -> Any:
    """A value of the same sort with another number in it."""
    if isinstance(value, list) and value:
        at = chance.randrange(len(value))
        return [*value[:at], _nearly(value[at], chance), *value[at + 1 :]]
    if isinstance(value, dict) and value:
        key = chance.choice(list(value))
        return value | {key: _nearly(value[key], chance)}
    if isinstance(value, str) and (found := re.match(r"([-0-9.]+)(.*)", value)):
        factor = chance.choice((-1, 0, 1e-9, 0.01, 0.5, 0.99, 1.01, 2, 100, 1e9))
        with contextlib.suppress(ValueError):
            return f"{float(found[1]) * factor:.6g}{found[2]}"
    return chance.choice((value, _odd(chance), _any(chance)))


def _odd(chance: Random) -> Any:
    """Of any type; a list of its own, for what comes next may change it."""
    return copy.deepcopy(chance.choice(VALUES))


def _nodes(table: Any) -> Iterator[tuple[Any, Any]]:
    """Every table or list with every key or index of it."""
    for key in list(table) if isinstance(table, dict) else range(len(table)):
        yield table, key
        if isinstance(table[key], dict | list):
            yield from _nodes(table[key])


def _other_value(brief: Any, chance: Random) -> None:
    table, key = chance.choice(list(_nodes(brief)) or [({0: 0}, 0)])
    table[key] = chance.choice(
        (_nearly(table[key], chance), _nearly(table[key], chance), _odd(chance),
         _any(chance), [table[key]], {"a": table[key]})
    )  # fmt: skip


def _other_key(brief: Any, chance: Random) -> None:
    """A key is gone, or is called otherwise."""
    inside = [(t, k) for t, k in _nodes(brief) if isinstance(t, dict)]
    table, key = chance.choice(inside or [({0: 0}, 0)])
    value = table.pop(key)
    if chance.random() < 0.5:
        table[chance.choice((_any(chance), chance.choice(inside)[1] if inside else "x"))] = value


def _moved(brief: Any, chance: Random) -> None:
    """What stands at one place stands at another as well."""
    nodes = list(_nodes(brief)) or [({0: 0}, 0)]
    table, key = chance.choice(nodes)
    other, name = chance.choice(nodes)
    with contextlib.suppress(IndexError, KeyError):  # taken away, or within itself
        other[name] = json.loads(json.dumps(table[key], default=str))


def _many(brief: Any, chance: Random) -> None:
    """A list many times over, or a table with many keys."""
    inside = [(t, k) for t, k in _nodes(brief) if isinstance(t[k], dict | list) and t[k]]
    table, key = chance.choice(inside or [({0: [0]}, 0)])
    count = chance.choice((2, 2, 3, 3, 3, 12, 12, 12, 70, 1100))
    count = min(count, max(2, NODES // (1 + sum(1 for _ in _nodes(table[key])))))
    if isinstance(table[key], list):
        table[key] = (table[key] * count)[:1500]
    else:
        name, value = next(iter(table[key].items()))
        table[key] |= {f"{name}{k}": value for k in range(count)}


def _deep(brief: Any, chance: Random) -> None:
    table, key = chance.choice(list(_nodes(brief)) or [({0: 0}, 0)])
    value = table[key]
    for _ in range(chance.choice((3, 40, 90))):
        value = {"a": value} if chance.random() < 0.5 else [value]
    table[key] = value


def enter_brief(given: Given, folder: Path) -> tuple[Path, Brief]:
    path = folder / given.how / "spoiled.toml"
    path.write_bytes(given.what)
    return path, read_brief(path)


def judge(found: tuple[Path, Brief], chance: Random) -> None:
    """Screen it, or have the command judge it, now and then."""
    path, brief = found
    if not chance.randrange(SCREENED):
        glance(brief)
    if not chance.randrange(JUDGING):
        command(["assess", str(path)])


# Tables, recordings, lines of the command, units.


def make_table(chance: Random) -> Given:
    """A CSV of the whole brief with slips: of the keyboard, or in its columns and cells."""
    name = chance.choice(list(MODELS))
    raw = chance.choice(tables()[name])
    if chance.random() < 0.5:
        return Given(spoiled(raw, chance), name)
    text = raw.decode("utf-8")
    rows = list(csv.reader(line for line in text.splitlines() if not line.startswith("#")))
    for _ in range(chance.choice((1, 1, 2, 5))):
        row = chance.choice([row for row in rows if row] or [rows.append([""]) or rows[-1]])
        at = chance.randrange(len(row))
        match chance.choice(("cell", "cell", "cell", "column", "swap", "rows", "wide")):
            case "cell":
                near = chance.random() < 0.6
                row[at] = str(_nearly(row[at], chance)) if near else _any(chance)
            case "column":
                rows = [one[:at] + one[at + 1 :] for one in rows]
            case "swap":
                row[at], row[0] = row[0], row[at]
            case "rows":
                rows[1:] = (rows[1:] * chance.choice((0, 2, 40, 600)))[:ROWS]
            case _:
                row += [_any(chance)[:99]] * chance.choice((1, 1, 3, 3, CELLS))
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return Given(encoded(out.getvalue())[: 2 * LARGEST_FILE], name)


def enter_table(given: Given, folder: Path) -> tuple[Path, Brief]:
    """By itself, and where it can be read in its brief."""
    path = folder / "whole" / given.how
    kept = path.read_bytes()
    path.write_bytes(given.what)
    try:
        if given.how == "mounts.csv":
            read_mounts(path)
        Folder(path.parent).rows(given.how, "it", MODELS[given.how])
        brief = path.with_name("case.toml")
        return brief, read_brief(brief)
    finally:
        path.write_bytes(kept)


OPTIONS: dict[str, tuple[Any, ...]] = {
    "rate": ("400 Hz", "1 Hz", "1e9 Hz", "0.4 kHz", "nan", "400"),
    "unit": ("1 g0", "1 m/s**2", "1 g", "1e308 g0", "x"),
    "time": ("none", "time (s)", "x (g)", "column 1", ""),
    "time_unit": ("1 ms", "1 s", "1e-300 s", "1 kg"),
    "channels": (["x (g)"], ["x (g)", "y (g)"], [], ["column 2"], ["w"], ["time (s)"]),
    "full_scale": ("16 g0", "1e308 g0", "0 g0"),
}


@cache
def recordings() -> dict[str, tuple[bytes, ...]]:
    """Short recordings of many loggers, by the ending of their names."""
    tap = (DATA / "ice-radar" / "tap.csv").read_text(encoding="utf-8").splitlines()
    knock = next(k for k, line in enumerate(tap) if line.startswith("0.5"))
    head, rows = tap[2], tap[knock : knock + 150]
    comma = [row.replace(",", ";").replace(".", ",") for row in rows]
    clock = [
        f"2030-01-31T12:00:{0.5 + k / 400:08.5f},{row.split(',', 1)[1]}"
        for k, row in enumerate(rows)
    ]
    texts = (
        [*tap[:3], *rows],
        [head.replace(",", ";"), *comma],
        [head.replace(",", "\t"), *(row.replace(",", "\t") for row in rows)],
        rows,
        ["time,acc_x,acc_y,acc_z,gyro", *(f"{row},0.1" for row in clock)],
        ["t [ms],base z [g],tray z [g]",
         *(f"{2.5 * k},{row.rsplit(',', 1)[1]},1" for k, row in enumerate(rows))],
    )  # fmt: skip
    values = [float(row.split(",")[1]) for row in rows]
    return {
        "csv": tuple("\n".join(lines).encode() for lines in texts),
        "wav": tuple(
            _wav(b"".join(pack(v) for v in values), code, size)
            for code, size, pack in (
                (1, 1, lambda v: struct.pack("B", int(128 + 9 * v))),
                (1, 2, lambda v: struct.pack("<h", int(900 * v))),
                (1, 3, lambda v: struct.pack("<i", int(90_000 * v))[:3]),
                (1, 4, lambda v: struct.pack("<i", int(9e8 * v / 40))),
                (3, 4, lambda v: struct.pack("<f", v / 40)),
                (3, 8, lambda v: struct.pack("<d", v / 40)),
            )
        ),
    }


def _wav(samples: bytes, code: int, size: int) -> bytes:
    form = struct.pack("<HHIIHH", code, 1, 400, 400 * size, size, 8 * size)
    body = b"fmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(samples))
    return b"RIFF" + struct.pack("<I", 4 + len(body) + len(samples)) + b"WAVE" + body + samples


def make_recording(chance: Random) -> Given:
    """A recording with slips, and with what may be stated of it."""
    kind = chance.choice(("csv", "csv", "csv", "wav"))
    raw = chance.choice(recordings()[kind])
    if kind == "wav" and chance.random() < 0.6:  # in its head
        at = chance.randrange(4, 44)
        new = chance.choice((b"\0\0\0\0", b"\xff\xff\xff\xff", b"\x01", chance.randbytes(2)))
        raw = raw[:at] + new + raw[at + len(new) :]
    elif chance.random() < 0.9:
        raw = spoiled(raw, chance)
    said = {} if kind == "csv" else {"full_scale": "16 g0"}
    for name in chance.sample(list(OPTIONS), chance.choice((0, 0, 1, 2))):
        said[name] = chance.choice(OPTIONS[name])
    return Given(raw, json.dumps([kind, said]))


def enter_recording(given: Given, folder: Path) -> tuple[Path, dict[str, Any], Recording]:
    kind, said = json.loads(given.how)
    path = folder / f"record.{kind}"
    path.write_bytes(given.what)
    recording = read_recording(path, **said)
    quality(recording)
    return path, said, recording


def fit(found: tuple[Path, dict[str, Any], Recording], chance: Random) -> None:
    """Take it for a tap, a tone, a pair and a trip, now and then."""
    path, said, recording = found
    if not chance.randrange(FITTED):
        first, *_, last = recording.names * 2
        with contextlib.suppress(InputError):
            ring_down(recording)
        with contextlib.suppress(InputError):
            dwell(recording, base=first, payload=last)
        with contextlib.suppress(InputError):
            swept(recording, base=first, payload=last)
        with contextlib.suppress(InputError):
            transmissibility(recording, base=first, payload=last)
        trip_record(path, **said)


PATHS = (
    "good/case.toml", "bad.toml", "none.toml", ".", "parts.csv", "binary", "", "no/such/folder",
    "bad.toml/below", "x" * 300, "a\0b", "fifo", "empty.toml", "bad.wav", "good/short.csv",
)  # fmt: skip
TASKS = (
    "new", "assess", "report", "sheet", "template", "drop", "choose", "bench", "keys", "roads",
    "heights", "assses", "",
)  # fmt: skip
FLAGS = (
    "--json", "--out", "--figures", "--paper", "a4", "letter", "a3", "--units", "in", "--leg",
    "--in-full", "--most", "--jobs", "--keep", "--chance", "look", "tap", "pair", "trip", "expect",
    "--rate", "--unit", "--time", "--time-unit", "--channels", "--full-scale", "--brief", "--base",
    "--payload", "400 Hz", "1 g0", "none", "-1", "1e999", "out", "--", "-", "--help", "-h", "leg",
)  # fmt: skip


def make_line(chance: Random) -> Given:
    """Arguments; a good brief is judged now and then, for it takes its second."""
    task = chance.choice(TASKS)
    words = [task, *(["look"] if task == "bench" and chance.random() < 0.5 else [])]
    for _ in range(chance.choice((0, 1, 1, 2, 3, 6))):
        paths = PATHS[1:] if chance.random() < 0.97 or task == "choose" else PATHS
        words.append(chance.choice((chance.choice(paths), chance.choice(FLAGS), _plain(chance))))
    return Given(encoded("\x1f".join(words)), "arguments")


def _plain(chance: Random) -> str:
    """A word that leads out of no folder."""
    word = _any(chance)
    return "word" if "/" in word or ".." in word else word


def enter_line(given: Given, folder: Path) -> None:
    """In a folder of its own, which is gone afterwards."""
    inside = folder / "line"
    shutil.copytree(folder / "starter", inside / "good")
    (inside / "good" / "short.csv").write_bytes(recordings()["csv"][0])
    (inside / "bad.toml").write_text('[payload]\nmass = "8 lb of"\n', encoding="utf-8")
    (inside / "empty.toml").touch()
    (inside / "parts.csv").write_bytes(tables()["parts.csv"][0])
    (inside / "binary").write_bytes(bytes(range(256)))
    (inside / "bad.wav").write_bytes(recordings()["wav"][0][:30])
    os.mkfifo(inside / "fifo")
    before = Path.cwd()
    os.chdir(inside)
    try:
        command(given.what.decode("utf-8", "surrogatepass").split("\x1f"))
    finally:
        os.chdir(before)
        shutil.rmtree(inside)


def command(arguments: Sequence[str]) -> None:
    """Run the command; refusing is its right, by the status 2 and a line."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status: Any = main(arguments)
        except SystemExit as end:  # how it is written, with the arguments as they are
            if end.code == 2:
                raise InputError("usage") from None
            status = end.code
    if status not in STATUS:
        raise Broken(f"the status is {status}")
    if "Traceback" in err.getvalue():
        where = re.findall(r'File "[^"]*/(isolator/[^"]+)", line (\d+)', err.getvalue())
        raise Broken(f"a traceback ({err.getvalue().splitlines()[-2]:.90}) {where[-1:]}")
    if status == 2:
        raise InputError(*(err.getvalue().splitlines() or [""]))


KINDS = {name: kind for name, kind in vars(units).items() if isinstance(kind, Kind)}


def make_value(chance: Random) -> Given:
    """A number with a unit, or a list of them."""
    kind = chance.choice((*KINDS, "number", "hardness"))
    word = KINDS[kind].example if kind in KINDS else chance.choice(("0.5", "40 Shore A", "5 %"))
    words = []
    for _ in range(chance.choice((1, 1, 1, 3))):
        match chance.randrange(3):
            case 0:
                words.append(f"{chance.choice(NUMBERS)}{chance.choice((' ', ''))}{_any(chance)}")
            case 1:
                words.append(str(_nearly(word, chance)))
            case _:
                raw = spoiled(word.encode(), chance)
                words.append(raw.decode("utf-8", "surrogateescape").replace("\x1f", ""))
    return Given("\x1f".join(words).encode("utf-8", "surrogatepass"), kind)


def enter_value(given: Given, folder: Path) -> None:
    words = given.what.decode("utf-8", "surrogatepass").split("\x1f")
    if given.how == "number":
        units.number(words[0], "it")
    elif given.how == "hardness":
        Hardness.read(words[0], "it")
    elif len(words) > 1:
        KINDS[given.how].read_array(words, "it")
    else:
        KINDS[given.how].read(words[0], "it")


DOORS = {
    "brief, text": Door(0.15, make_text, enter_brief, judge),
    "brief, tables": Door(0.1, make_structure, enter_brief, judge),
    "brief, keys": Door(0.05, make_from_keys, enter_brief, judge),
    "CSV tables": Door(0.2, make_table, enter_table, judge),
    "recordings": Door(0.07, make_recording, enter_recording, fit),
    "command line": Door(0.03, make_line, enter_line),
    "units": Door(0.4, make_value, enter_value),
}


# Trying inputs, and what is left of one that fails.


class Late(BaseException):
    """It stands still."""


def _late(*_: object) -> None:
    raise Late


def scratch(folder: Path) -> Path:
    """A folder with all that briefs name."""
    for name in BRIEFS:
        shutil.copytree(DATA / name, folder / name)
    (folder / "whole").mkdir()
    (folder / "whole" / "case.toml").write_bytes(briefs()["whole"])
    for name, some in tables().items():
        (folder / "whole" / name).write_bytes(some[0])
    return folder


@dataclass(frozen=True)
class End:
    """What became of an input: "taken", "refused" or a kind of failure, and all that was said."""

    kind: str
    seconds: float
    memory: float
    said: str = ""


def tried(door: Door, given: Given, folder: Path, chance: Random) -> End:
    """Hand an input over, and what comes of it on to the next rooms."""
    _forget_memory()
    signal.signal(signal.SIGALRM, _late)
    signal.setitimer(signal.ITIMER_REAL, WAITS)
    start, spent = time.thread_time(), None
    kind, said = "taken", ""
    try:
        found = door.enter(given, folder)
        spent = time.thread_time() - start
        door.further(found, chance)
    except InputError as error:
        said = "\n".join(error.lines)
        if not error.lines or not all(map(_can_be_read, error.lines)):
            kind, said = "a message that cannot be read", repr(error.lines)
        elif spent is None:
            kind = "refused"
    except Broken as error:
        kind, said = str(error), traceback.format_exc()
    except Late:
        kind, said = f"not done after {WAITS:.0f} s", traceback.format_exc()
    except Exception as error:
        own = [f for f in traceback.extract_tb(error.__traceback__) if "isolator/" in f.filename]
        where = (
            f"{Path(own[-1].filename).name}, line {own[-1].lineno}" if own else "no room of ours"
        )
        kind, said = f"{type(error).__name__} in {where}", traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    spent = time.thread_time() - start if spent is None else spent
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    if kind in ("taken", "refused") and spent > LONGEST:
        kind = f"more than {LONGEST:.0f} s"
    if memory > MOST_MEMORY:
        kind = f"more than {MOST_MEMORY:.0f} MB"
    return End(kind, spent, memory, said)


def _forget_memory() -> None:
    """What making an input took, or the one before, counts no more."""
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def _can_be_read(line: str) -> bool:
    """One line of signs that a terminal shows."""
    odd = ("Cc", "Cf", "Cs", "Zl", "Zp")
    seen = (unicodedata.category(c) not in odd or c in "\u200c\u200d" for c in line)
    return bool(line.strip()) and len(line) <= 2000 and all(seen)


def smaller(given: Given, fails: Callable[[Given], bool], most: int = 300) -> Given:
    """What is left when arguments, lines, then bytes are taken away as long as it fails."""
    end = time.monotonic() + 2 * WAITS
    for mark in (b"\x1f", b"\n", b""):
        raw = given.what
        pieces = raw.split(mark) if mark else [raw[k : k + 1] for k in range(len(raw))]
        size = len(pieces) // 2
        while size and most:
            at = 0
            while at < len(pieces) and most and time.monotonic() < end:
                most -= 1
                rest = Given(mark.join(pieces[:at] + pieces[at + size :]), given.how)
                if fails(rest):
                    given = rest
                    del pieces[at : at + size]
                else:
                    at += size
            size //= 2
    return given


@dataclass(frozen=True)
class Failure:
    """How often inputs failed so, the number of the first, what is left of it, what was said."""

    count: int
    number: int
    given: Given
    said: str


@dataclass
class Tally:
    """What became of the inputs of a door; failures by their kind."""

    inputs: int = 0
    taken: int = 0
    refused: int = 0
    slowest: float = 0.0
    memory: float = 0.0
    failures: dict[str, Failure] = field(default_factory=dict)

    def add(self, other: Tally) -> None:
        self.inputs += other.inputs
        self.taken += other.taken
        self.refused += other.refused
        self.slowest = max(self.slowest, other.slowest)
        self.memory = max(self.memory, other.memory)
        for kind, found in other.failures.items():
            known = self.failures.get(kind)
            count = found.count + (known.count if known else 0)
            self.failures[kind] = replace(known or found, count=count)


def run(name: str, seed: int, numbers: Sequence[int]) -> Tally:
    """Make and try the inputs of these numbers at a door."""
    door, tally = DOORS[name], Tally()
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("error")
        folder = scratch(Path(place))
        for number in numbers:
            chance = Random(f"{seed} {name} {number}")
            given = door.make(chance)
            state = chance.getstate()

            def again(other: Given, chance: Random = chance, state: Any = state) -> End:
                chance.setstate(state)
                return tried(door, other, folder, chance)

            end = again(given)
            tally.inputs += 1
            tally.slowest = max(tally.slowest, end.seconds)
            tally.memory = max(tally.memory, end.memory)
            if end.kind == "taken":
                tally.taken += 1
            elif end.kind == "refused":
                tally.refused += 1
            elif end.kind in tally.failures:
                known = tally.failures[end.kind]
                tally.failures[end.kind] = replace(known, count=known.count + 1)
            else:
                least = smaller(given, lambda other, kind=end.kind: again(other).kind == kind)
                tally.failures[end.kind] = Failure(1, number, least, end.said)
    return tally


def _ready() -> None:
    """A process that has loaded what it needs, and cannot take all of the machine's memory."""
    with tempfile.TemporaryDirectory() as place:
        folder = scratch(Path(place))
        judge(enter_brief(Given(briefs()["whole"], "whole"), folder), Random(0))
        for kind, said in (("csv", {}), ("wav", {"full_scale": "16 g0"})):
            given = Given(recordings()[kind][0], json.dumps([kind, said]))
            fit(enter_recording(given, folder), Random(0))
    resource.setrlimit(resource.RLIMIT_AS, (SPACE, SPACE))


def all_doors(inputs: int, seed: int, jobs: int, names: Sequence[str]) -> dict[str, Tally]:
    """Try so many inputs in all, side by side."""
    found = {name: Tally() for name in names}
    whole_share = sum(DOORS[name].share for name in names)
    os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # a process for each core
    with ProcessPoolExecutor(jobs, get_context("spawn"), initializer=_ready) as pool:
        waiting = {}
        for name in names:
            count = round(inputs * DOORS[name].share / whole_share)
            for first in range(0, count, CHUNK):
                numbers = range(first, min(first + CHUNK, count))
                waiting[pool.submit(run, name, seed, numbers)] = (name, numbers)
        try:
            for future in tqdm(as_completed(waiting), total=len(waiting), mininterval=1):
                name, numbers = waiting[future]
                try:
                    tally = future.result()
                except BrokenProcessPool:
                    lost = Failure(1, numbers[0], Given(b"", ""), f"or another up to {numbers[-1]}")
                    tally = Tally(failures={"a process was lost": lost})
                for kind, failure in tally.failures.items():
                    tqdm.write(f"{name}, number {failure.number}: {kind}", file=sys.stderr)
                found[name].add(tally)
        finally:
            pool.shutdown(cancel_futures=True)
    return found


def table(found: Mapping[str, Tally]) -> str:
    """A row for each door, and below it each kind of failure."""
    rows = [("door", "inputs", "refused", "taken", "slowest [s]", "memory [MB]", "failures")]
    whole_tally = Tally()
    for tally in found.values():
        whole_tally.add(tally)
    for name, t in [*found.items(), ("all", whole_tally)]:
        failed = sum(failure.count for failure in t.failures.values())
        counts = (f"{n}" for n in (t.inputs, t.refused, t.taken))
        rows.append((name, *counts, f"{t.slowest:.2f}", f"{t.memory:.0f}", f"{failed}"))
    lines = [f"{row[0]:14}" + "".join(f"{cell:>13}" for cell in row[1:]) for row in rows]
    for name, tally in found.items():
        for kind, failure in tally.failures.items():
            lines += ["", f"{name}: {kind}: {failure.count}, the first is number {failure.number}"]
            lines += [f"  {failure.given.how}: {failure.given.what[:2000]!r}", failure.said]
    return "\n".join(lines)


def command_line() -> int:
    parser = argparse.ArgumentParser(description="Broken input through every door.")
    parser.add_argument("--inputs", type=int, default=INPUTS, help="in all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--door", choices=DOORS, help="this one alone")
    parser.add_argument("--only", type=int, help="number of one input, to try it once more")
    given = parser.parse_args()
    if given.only is not None:
        if given.door is None:
            parser.error("--only needs --door")
        found = {given.door: run(given.door, given.seed, [given.only])}
    else:
        found = all_doors(
            given.inputs, given.seed, given.jobs, [given.door] if given.door else [*DOORS]
        )
    print(table(found))
    return int(any(tally.failures for tally in found.values()))


if __name__ == "__main__":
    sys.exit(command_line())
